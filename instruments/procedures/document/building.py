"""From a procedure's content to the document people read, part by part.

Lives here: the words around the facts. May not live here: reading or changing revisions.
"""

from __future__ import annotations

from collections.abc import Iterator

from instruments.procedures.content import (
    FUNCTIONS,
    PLACES,
    ZEROS,
    Band,
    Content,
    Look,
    PointRules,
    ZeroPolicy,
)
from instruments.procedures.document.budget import component_entry
from instruments.procedures.document.lengths import window_words
from instruments.procedures.document.parts import MILLION, Entry, Part, listed, measure, number
from instruments.procedures.document.series import series_entries
from labsys.metrology.plan import Window
from labsys.metrology.rules import Rule
from labsys.metrology.units import Quantity

SUBJECTS = {"knife-edges": "crossed knife-edges", "nibs": "rounded nibs"}
NOT_CONFIRMED = "not confirmed"


def document(content: Content) -> tuple[Part, ...]:
    """Lay the whole content out, in the order in which work goes."""
    return (
        Part("scope", "What it is for", tuple(_scope(content))),
        Part("looks", "Looks before measuring", _looks(content), items="looks"),
        Part("reading", "Zero and readings", tuple(_reading(content))),
        *_over_faces(content),
        Part("series", "Series", series_entries(content), items="series", empty=_NO_SERIES),
        Part("conditions", "Room and standards", tuple(_conditions(content))),
        Part("budget", "Uncertainty budget", _budget(content), items="budget"),
        Part("coverage", "Repeatability, coverage and reporting", tuple(_coverage(content))),
        Part("rule", "Decision rule where nothing else is agreed", _rule(content)),
    )


def _scope(content: Content) -> Iterator[Entry]:
    yield Entry("scope", "Gauges", (content.scope,))
    yield Entry("method", "Documents followed", content.method)
    yield Entry("cautions", "Cautions", content.cautions)
    flag = NOT_CONFIRMED if content.starting_values else ""
    yield Entry("starting", "Starting values", content.starting_values or ("none",), flag=flag)


def _looks(content: Content) -> tuple[Entry, ...]:
    return tuple(_look(look, index) for index, look in enumerate(content.looks))


def _look(look: Look, index: int) -> Entry:
    only = (f"only for {listed(SUBJECTS.get(s, FUNCTIONS.get(s, s)) for s in look.only_for)}",)
    ends = ("if not good, the gauge is rejected without measuring",)
    notes = (*(only if look.only_for else ()), *(ends if look.ends_job else ()))
    return Entry(f"looks/{look.code}", look.code, (look.text,), notes, look.caution, index=index)


def _reading(content: Content) -> Iterator[Entry]:
    yield Entry("zero", "Zero", _zero(content.zero))
    for name, rule in content.reading_rules.items():
        yield Entry(f"reading_rules/{name}", f"Reading, {FUNCTIONS[name]}", (rule,))
    parts = tuple(
        f"{name}: {'one step' if count == 1 else f'1/{count} of a division'}"
        for name, count in content.readable_parts.items()
    )
    yield Entry("readable_parts", "Read to", parts or ("one step",))
    spread = content.spread_limit_mm
    beyond = "half the width of the limits" if spread is None else measure(spread, content.measures)
    yield Entry(
        "repeats", "Readings at each point", (str(content.repeats), f"A spread beyond {beyond} rejects.")
    )


def _zero(zero: ZeroPolicy) -> tuple[str, ...]:
    said = (zero.text,) if zero.text else ()
    if zero.how == "none":
        return ("The gauge has no zero.", *said)
    steps = zero.allowed_steps
    within = f"Verified after the last point, within {steps} step{'' if steps == 1 else 's'}."
    if zero.how == "faces" and not zero.text:
        first = "Read as found, then set once with the outside faces."
    else:
        first = f"Read as found, then set once. Read on {ZEROS[zero.how]}."
    if zero.fixed:
        first = "It can't be set; as found it is judged as an error."
        first += f" Read on {ZEROS[zero.how]}." if zero.how != "faces" else ""
    return (first, *said, within)


def _over_faces(content: Content) -> Iterator[Part]:
    rules = content.points
    if rules is None:
        yield Part("points", "Points", (), empty=_NO_POINTS)
        return
    yield Part("points", "Points", tuple(_points(rules)))
    yield Part("bands", "Outside points by measuring range", _bands(rules), items="bands")
    yield Part("windows", "One point of each other function", _windows(rules), empty=_NO_WINDOWS)


_NO_POINTS = "No rules over range and faces: everything is measured in the series below."
_NO_WINDOWS = "Nothing here: no function besides outside gets a point."
_NO_SERIES = "None: nothing is measured besides the points above."


def _points(points: PointRules) -> Iterator[Entry]:
    flag = "" if points.confirmed else NOT_CONFIRMED
    yield Entry("source", "Where the numbers come from", (points.source,), flag=flag)
    yield Entry(
        "spread",
        "Spread of the outside points",
        (
            f"One within the lowest {number(points.low_share * 100, '%')} of the range, "
            f"one at {number(points.far_share * 100, '%')} of it or beyond.",
        ),
    )
    places = listed(PLACES[place] for place in points.places)
    longest = listed(PLACES[place] for place in points.longest_at)
    yield Entry(
        "places",
        "Places on the faces",
        (
            f"Each of: {places}; neighbouring lengths at different places.",
            f"The longest is proposed at each of: {longest}.",
        ),
    )
    jaws = listed(SUBJECTS[jaws] for jaws in points.small_bore_jaws)
    yield Entry("small_bore_jaws", "Small bore", (f"Where the inside jaws are {jaws}.",))
    outcome = "holds up submission" if points.phase == "rule" else "is a warning"
    yield Entry(
        "phase",
        "Phase of the scale",
        (f"That all lengths lie at one phase of the scale's period {outcome}.",),
    )
    yield Entry("stack", "Stacks", (f"At most {points.stack_at_most} blocks.",))
    order = "As the procedure gives it." if points.order == "fixed" else "By set-up."
    yield Entry("order", "Order", (order,))


def _bands(rules: PointRules) -> tuple[Entry, ...]:
    return tuple(_band(band, index) for index, band in enumerate(rules.bands))


def _band(band: Band, index: int) -> Entry:
    proposed = tuple(
        f"Proposed in {unit}: {listed(number(length, unit) for length in lengths)}"
        for unit, lengths in (("mm", band.lengths_mm), ("in", band.lengths_in))
        if lengths
    )
    points = f"At least {band.least_points} outside point{'' if band.least_points == 1 else 's'}"
    reach = number(band.range_up_to_mm, "mm")
    return Entry(f"bands/{reach}", f"Range up to {reach}", (points, *proposed), index=index)


def _windows(rules: PointRules) -> tuple[Entry, ...]:
    return tuple(_window(name, window) for name, window in rules.windows.items())


def _window(name: str, window: Window) -> Entry:
    return Entry(
        f"windows/{name}", FUNCTIONS[name].capitalize(), tuple(window_words(window, Quantity.LENGTH))
    )


def _conditions(content: Content) -> Iterator[Entry]:
    limits, needs = content.conditions, content.references
    warm = f"{number(limits.temperature_low_c, '°C')} to {number(limits.temperature_high_c, '°C')}"
    yield Entry("temperature", "Temperature", (warm,))
    damp = f"{number(limits.humidity_low, '%')} to {number(limits.humidity_high, '%')}"
    yield Entry("humidity", "Relative humidity", (damp,))
    yield Entry("soak", "Soak time", (f"{limits.soak_minutes} min",))
    growing = f" + {number(needs.U_per_mm * MILLION, 'µm/m')} · L"
    if content.measures is Quantity.ANGLE:
        growing = ""
    most = f"At most {measure(needs.U_mm, content.measures)}{growing} (k = 2)"
    yield Entry("references", "U of a standard", (most,))
    yield Entry("kinds", "Standards", needs.kinds or ("none named",))


def _budget(content: Content) -> tuple[Entry, ...]:
    return tuple(
        component_entry(stored, index, content.measures) for index, stored in enumerate(content.budget)
    )


def _coverage(content: Content) -> Iterator[Entry]:
    study = content.repeatability
    if study is None:
        yield Entry("repeatability", "Repeatability", ("No study: half of what can be told apart counts.",))
    else:
        words = (
            f"s = {measure(study.s_mm, content.measures)} with {study.degrees_of_freedom} degrees of freedom"
        )
        yield Entry("repeatability", "Repeatability", (words,), tuple(filter(None, (study.source,))))
    yield Entry("probability", "Coverage probability", (number(content.probability * 100, "%"),))
    digits = "one significant digit" if content.digits == 1 else "two significant digits"
    rounded = {"half-even": "half to even", "half-up": "half up"}[content.rounding]
    yield Entry("digits", "Reported U", (f"{digits}, rounded {rounded}",))


def _rule(content: Content) -> tuple[Entry, ...]:
    return (Entry("rule", "Rule", (Rule.from_json(content.rule).words,)),)
