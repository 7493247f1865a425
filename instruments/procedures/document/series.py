"""The series of a procedure in words, each in the order in which its work goes.

May not live here: the rest of the document (building.py), how a series is changed (forms/series.py).
"""

from __future__ import annotations

from collections.abc import Iterator

from instruments.procedures.content import DIRECTIONS, FUNCTIONS, Content, ResultRule, Series, place_words
from instruments.procedures.content.series import READS, RESULTS
from instruments.procedures.document.budget import component_entry
from instruments.procedures.document.lengths import lengths_words
from instruments.procedures.document.parts import Entry, listed, measure, number
from labsys.laboratory.models import CHARACTERISTICS, MeasuringFunction
from labsys.metrology.units import Quantity
from labsys.pages import figures


def series_entries(content: Content) -> tuple[Entry, ...]:
    """Lay every series out, each with what it is made of."""
    return tuple(_entry(one, index, content.measures) for index, one in enumerate(content.series))


def _entry(one: Series, index: int, quantity: Quantity) -> Entry:
    return Entry(
        key=f"series/{one.code}",
        label=one.name,
        lines=(one.reading_rule,),
        caution=one.caution,
        index=index,
        within=tuple(_facts(one, quantity)),
        drawing=one.sketch,
        drawn_for=_drawn_for(one),
    )


def _drawn_for(one: Series) -> str:
    """Give the function a drawing is made for; the caliper's knows none but its own."""
    if one.sketch != "caliper":
        return one.code
    return next((name for name in (one.needs, one.serves) if name in FUNCTIONS), "outside")


def _facts(one: Series, quantity: Quantity) -> Iterator[Entry]:
    def fact(name: str, label: str, *lines: str) -> Entry:
        return Entry(f"series/{one.code}/{name}", label, lines)

    gauges = f"Those that measure {_function(one.needs)}." if one.needs else "Every gauge."
    yield fact("needs", "Gauges", f"{gauges} Short name: {one.code}.")
    yield fact("lengths", f"{quantity.capitalize()}s", *lengths_words(one.lengths, quantity))
    if one.places:
        yield fact("places", "Places", _places(one))
    if one.directions:
        yield fact(
            "directions", "Direction", f"{listed(DIRECTIONS[way] for way in one.directions)}.".capitalize()
        )
    yield fact("serves", "Reference", _reference(one, quantity))
    yield fact("reads", "What is read", *_read(one))
    yield fact("repeats", "Readings at each point", *_repeats(one, quantity))
    yield fact("results", "Results", *(_result(rule, quantity) for rule in one.results))
    yield _budget(one, quantity)


def _function(name: str) -> str:
    return str(MeasuringFunction(name).label)


def _places(one: Series) -> str:
    taken = "all of them at every length" if one.each_place else "one after the other in turn"
    return f"{listed(place_words(place) for place in one.places)}; {taken}.".capitalize()


def _reference(one: Series, quantity: Quantity) -> str:
    if not one.serves:
        return "None: nothing is compared with."
    blocks = (
        "a single block or element"
        if one.most_blocks == 1
        else f"at most {one.most_blocks} blocks in a stack"
    )
    near = (
        f", within {measure(one.within_mm, quantity)} of the {quantity}" if one.reads == "difference" else ""
    )
    return f"An element that serves {_function(one.serves)}{near}; {blocks}."


def _read(one: Series) -> Iterator[str]:
    words = READS[one.reads]
    yield f"{words[0].upper()}{words[1:]}."
    if one.on is not None:
        step = figures.with_unit(figures.plain(one.on.step), one.on.unit)
        yield f"On a scale other than the gauge's, in steps of {step}."
    if one.band_mm is not None:
        yield f"Each band is {number(one.band_mm * 1000, 'µm')}, half the wavelength of the light."


def _repeats(one: Series, quantity: Quantity) -> Iterator[str]:
    if one.order:
        yield f"Reference (R) and gauge (G) in turn, {one.order}; the mean of the rounds counts."
    yield str(one.repeats)
    if one.repeats > 1:
        limit = one.spread_limit_mm
        beyond = "half the width of the limits" if limit is None else measure(limit, quantity)
        yield f"A spread beyond {beyond} rejects."


def _result(rule: ResultRule, quantity: Quantity) -> str:
    words = RESULTS[rule.kind]
    name = f"{rule.name}: {words}" if rule.name else f"{words[0].upper()}{words[1:]}"
    going = f", {DIRECTIONS[rule.direction]} only" if rule.direction else ""
    section = f", over {measure(rule.within_mm, quantity)}" if rule.within_mm is not None else ""
    if rule.within_in is not None:
        section += f" (gauges in inches: over {number(rule.within_in, 'in')})"
    return f"{name}{going}{section}. Line of limits: {CHARACTERISTICS[rule.limit]}."


def _budget(one: Series, quantity: Quantity) -> Entry:
    key = f"series/{one.code}/budget"
    if one.budget is None:
        return Entry(key, "Uncertainty budget", ("The components of the procedure.",))
    own = tuple(component_entry(stored, index, quantity) for index, stored in enumerate(one.budget))
    return Entry(key, "Uncertainty budget", ("Its own:",), within=own, items=f"budget-of-{one.code}")
