"""What the one field asks for now: a reading at a point, or a reading of the closed faces."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from decimal import Decimal

from instruments.measuring.evaluation import Evaluated, Ground, evaluate_zero, prospect_of
from instruments.measuring.models import Arrival, Point, PointReference, Reading, Result, SetAside, ZeroCheck
from instruments.measuring.queries import Bench, BenchPoint
from instruments.measuring.showing import cautions, corridors, integers, sayings, values, words
from instruments.measuring.showing.earlier import as_found_of
from instruments.measuring.showing.steps import Step, is_out, lacking
from instruments.measuring.zeros import expected_mm, is_fixed
from instruments.procedures.content import Content, Series
from instruments.procedures.scales import zero_scale
from labsys.metrology.units import Quantity, Unit, from_mm
from labsys.pages import figures
from labsys.pages.corridor import CorridorData
from standards.register.models import Standard

_CAUTIONS_OF_ZERO = {
    "faces": ("Keep fingers away from the closing faces.",),
    "low-end": ("Close with the ratchet or friction only; keep fingers away from the faces.",),
    "reference": ("Lift the contact before the reference is moved in or out.",),
    "plate": ("The edges of the blade are sharp, and a long one tips.",),
}

_RIGHT_ANGLE = Decimal(324_000)
"""A right angle in arc seconds."""

SHAPES: dict[str, str] = {Standard.Kind.RING: "ring", Standard.Kind.PIN: "pin"}


@dataclass(frozen=True)
class Sketched:
    """What the sketch is drawn from."""

    function: str
    place: str | None = None
    opening: float = 0.4
    reference: str = "block"
    reference_text: str = ""
    drawing: str = "caliper"
    direction: str = ""


@dataclass(frozen=True)
class ReferenceLine:
    """One element to take: its standard's tag, its label, how often, its value used, in the gauge's unit."""

    tag: str
    label: str
    count: int
    value: str


@dataclass(frozen=True)
class Entry:
    """One observation as the list beside the field shows it; ``value`` as typed, ``shown`` with its unit."""

    value: str
    unit: str
    shown: str
    clock: str
    who: str
    pk: int | None = None
    error_mm: Decimal | None = None
    is_out: bool = False
    struck: str = ""
    kind: str = ""


@dataclass(frozen=True)
class TogetherLine:
    """What points say together so far: its name, the value, the most it may be (empty: no limit), the verdict."""

    name: str
    value: str
    most: str
    verdict: str


@dataclass(frozen=True)
class Target:
    """Everything around the field: where to measure, with what, what it is judged by, what was read there so far.

    ``fields`` are the names and values that say in the envelope what was read; ``turns`` are the labels of the
    readings still wanted, this one first; ``note`` stands where there is no corridor to draw, ``verdict`` where one
    was given without; ``together`` is what the points of the series say so far; ``said`` is what the bench has to say
    about the last value, ``is_asking`` when it can be confirmed by one tap.
    """

    step: Step
    heading: str
    fields: dict[str, str]
    label: str
    sketch: Sketched
    what: tuple[str, ...]
    references: tuple[ReferenceLine, ...] = ()
    cautions: tuple[str, ...] = ()
    corridor: CorridorData | None = None
    integers: integers.Integers | None = None
    note: str = ""
    verdict: str = ""
    is_fit: bool = False
    together: tuple[TogetherLine, ...] = ()
    entries: tuple[Entry, ...] = ()
    said: sayings.Saying | None = None
    point: BenchPoint | None = None
    set_asides: tuple[SetAside, ...] = ()
    turns: tuple[str, ...] = ()
    mine: tuple[SetAside, ...] = ()

    @property
    def turns_text(self) -> str:
        """Write the turns as the page's script reads them."""
        return json.dumps(self.turns, ensure_ascii=False)

    @property
    def key(self) -> str:
        """Name the target as the page's script does: its fields, in their order."""
        return " ".join(self.fields.values())

    @property
    def others(self) -> tuple[SetAside, ...]:
        """Give what is set aside elsewhere in the session: the next reading that counts here won't answer for it."""
        return tuple(row for row in self.set_asides if row not in self.mine)


def at_point(bench: Bench, found: BenchPoint) -> Target:
    """Make the target of a point."""
    ground, point = bench.ground, found.point
    content, unit = ground.content, ground.model.unit
    shown = found.evaluated or prospect_of(point, ground)
    label = words.point(point, unit, content)
    mine = _mine(bench, Arrival.Kind.READING, {"point": point.pk})
    turns = _turns(found, bench)
    return Target(
        step=Step.POINTS,
        heading=label,
        fields={"kind": Arrival.Kind.READING, "point": str(point.pk)},
        label=turns[0],
        sketch=_sketch(bench, found),
        what=_what(bench, found),
        references=tuple(
            _line(row, unit, content.series_of(point.function)) for row in point.references.all()
        ),
        cautions=(*_own_caution(content, point), *cautions.of_point(point, ground.model)),
        corridor=corridors.of_evaluated(shown, ground, label, as_found_of(bench, point)),
        integers=integers.of_point(shown, ground),
        note=_note(found, shown, ground),
        verdict="" if found.evaluated is None or shown.decision or not shown.verdict else str(shown.verdict),
        is_fit=shown.kind == Result.Kind.ATTRIBUTE,
        together=tuple(
            _together(item, ground) for item in bench.common if item.points[0].function == point.function
        ),
        entries=tuple(_entry(row, shown) for row in found.readings),
        said=sayings.about(mine) or sayings.at_point(found, bench),
        point=found,
        set_asides=bench.set_asides,
        turns=turns,
        mine=mine,
    )


LIMIT_DECIMALS = 6
_LABELS = {
    "bands": "Bands counted",
    "attribute": "Is it so? yes or no",
    "difference": "Difference shown, in {unit}",
    "value": "Value shown, in {unit}",
}


_IN_TURN = {"R": "the reference", "G": "the gauge"}


def _turns(found: BenchPoint, bench: Bench) -> tuple[str, ...]:
    """Label every reading that the point still wants; one where it wants none, for whoever reads again."""
    content, function = bench.ground.content, found.point.function
    series, unit = content.series_of(function), words.unit_read(bench.ground.model, content, function)
    taken = sum(1 for reading in found.readings if not hasattr(reading, "strike"))
    return tuple(_label(series, unit, taken + ahead) for ahead in range(max(1, lacking(found, bench))))


def _label(series: Series | None, unit: str, taken: int) -> str:
    """Name what is typed next; where reference and gauge are read in turn, which of them."""
    if series is not None and series.order:
        on = _IN_TURN[series.order[taken % len(series.order)]]
        return f"Shown on {on}, reading {taken + 1} of {max(series.readings, taken + 1)}, in {unit}"
    known = "Reading in {unit}" if series is None else _LABELS.get(series.reads, "Reading in {unit}")
    return known.format(unit=words.unit_named(unit))


def _own_caution(content: Content, point: Point) -> tuple[str, ...]:
    series = content.series_of(point.function)
    return (series.caution,) if series is not None and series.caution else ()


def _note(found: BenchPoint, shown: Evaluated, ground: Ground) -> str:
    """Say what stands in the place of the corridor where a point has no limits of its own."""
    if shown.decision is not None or shown.kind == Result.Kind.ATTRIBUTE:
        return ""
    together = "It is judged together with the other points."
    return f"{values.value_text(shown, ground)}. {together}" if found.is_done else together


def _together(item: Evaluated, ground: Ground) -> TogetherLine:
    upper = item.limits.upper
    unit = ground.model.unit
    # A limit agreed in the other unit has no end in this one; rounded it is for reading only.
    shown = None if upper is None else round(from_mm(upper, Unit(unit)), LIMIT_DECIMALS)
    most = "" if shown is None else figures.with_unit(figures.plain(shown), unit)
    return TogetherLine(item.name, values.value_text(item, ground), most, str(item.verdict or ""))


def at_zero(bench: Bench, step: Step) -> Target:
    """Make the target of a reading of the closed faces: as found, set, or at the end."""
    kind = {Step.ZERO_FOUND: "as-found", Step.ZERO_SET: "set", Step.CLOSING: "closing"}[step]
    checks = [check for check in bench.run.zero_checks.all() if check.kind == kind]
    mine = _mine(bench, Arrival.Kind.ZERO, {"run": bench.run.pk, "kind": kind})
    fixed = is_fixed(bench.ground.model, bench.ground.content)
    scale = zero_scale(bench.ground.model, bench.ground.content)
    corridor, judging = _judged_zero(bench, step, checks, is_fixed=fixed)
    return Target(
        step=step,
        heading=sayings.ZERO_HEADINGS[kind],
        fields={"kind": Arrival.Kind.ZERO, "run": str(bench.run.pk), "zero": kind},
        label=sayings.ZERO_LABELS[bench.ground.content.zero.how].format(unit=words.unit_named(scale.unit)),
        sketch=_sketch_of_zero(bench),
        what=sayings.zero(kind, bench, is_fixed=fixed),
        cautions=_CAUTIONS_OF_ZERO.get(bench.ground.content.zero.how, ())
        if bench.ground.content.points is None
        else ("Keep fingers away from the closing jaws. Tips and knife-edges cut.",),
        corridor=corridor,
        integers=judging,
        note=sayings.ZERO_NOTES[kind],
        entries=tuple(_zero_entry(check) for check in checks),
        said=sayings.about(mine) or sayings.after_zero(step, bench),
        set_asides=bench.set_asides,
        mine=mine,
    )


def _judged_zero(
    bench: Bench, step: Step, checks: list[ZeroCheck], *, is_fixed: bool
) -> tuple[CorridorData | None, integers.Integers | None]:
    """Say between what a zero is judged: the steps it may move at the end, its limits where it can't be set."""
    if step is Step.CLOSING:
        return _closing(bench, checks)
    if not is_fixed:
        return None, None
    found = evaluate_zero(checks[0].value_mm if checks else Decimal(0), bench.ground)
    corridor = corridors.of_evaluated(found, bench.ground, "Zero as found")
    assert corridor is not None, "a fixed zero has limits"
    return replace(corridor, is_read=bool(checks)), integers.of_point(found, bench.ground)


def _closing(bench: Bench, checks: list[ZeroCheck]) -> tuple[CorridorData, integers.Integers]:
    expected = expected_mm(bench.run, bench.ground.model, bench.ground.content)
    last = checks[-1] if checks else None
    return (
        corridors.of_closing(last, expected, bench.ground),
        integers.of_closing(bench.ground, expected),
    )


def _mine(bench: Bench, kind: str, fields: dict[str, object]) -> tuple[SetAside, ...]:
    """Find what was set aside at this very target, newest last."""
    return tuple(
        row for row in bench.set_asides if row.arrival.kind == kind and sayings.speaks_of(row, fields)
    )


def _what(bench: Bench, found: BenchPoint) -> tuple[str, ...]:
    rule = bench.ground.content.reading_rule_of(found.point.function)
    series = bench.ground.content.series_of(found.point.function)
    if series is not None and series.order:
        return (
            rule,
            "Reference and gauge in turn: a steady drift falls out, and the mean of the rounds counts.",
        )
    repeats = bench.ground.content.repeats_at(found.point.function)
    more = (f"{repeats} readings here; all are kept, the one with the least margin is judged.",)
    return (rule, *(more if repeats > 1 else ()))


def _sketch(bench: Bench, found: BenchPoint) -> Sketched:
    point, model = found.point, bench.ground.model
    kinds = {row.element_value.element.standard.kind for row in point.references.all()}
    series = bench.ground.content.series_of(point.function)
    # A protractor is drawn as it is opened, whatever its range; everything else as a share of its own.
    span = _RIGHT_ANGLE if model.quantity is Quantity.ANGLE else model.range_high_mm or Decimal(1)
    return Sketched(
        function=point.function,
        place=point.place or None,
        opening=float(point.nominal_mm / span),
        reference=next((SHAPES[kind] for kind in kinds if kind in SHAPES), "block"),
        reference_text=_reference_text(point, model.unit, series),
        drawing="caliper" if series is None else series.sketch,
        direction=point.direction,
    )


def _sketch_of_zero(bench: Bench) -> Sketched:
    content = bench.ground.content
    drawn = "caliper" if content.points is not None else next((one.sketch for one in content.series), "")
    return Sketched("zero", opening=0.0, drawing=drawn)


def _reference_text(point: Point, unit: str, series: Series | None) -> str:
    """Name the reference by its length: the point's, or that of what the size is compared with."""
    if series is None or series.reads == "indication":
        return words.length(point.nominal_mm, unit) if point.nominal_mm else ""
    if series.reads != "difference":
        return ""
    together = sum((row.nominal_mm * row.count for row in point.references.all()), Decimal(0))
    return words.length(together, unit) if together else ""


def _line(row: PointReference, unit: str, series: Series | None) -> ReferenceLine:
    """Name an element to take; its value only where it is compared with."""
    element = row.element_value.element
    compared = series is None or series.reads in ("indication", "difference")
    value = words.length(row.nominal_mm + row.deviation_mm, unit) if compared else ""
    return ReferenceLine(element.standard.tag.text, element.label, row.count, value)


def _entry(reading: Reading, shown: Evaluated) -> Entry:
    error_mm = reading.value_mm - shown.held_mm
    return Entry(
        value=reading.raw,
        unit=reading.unit,
        shown=str(reading),
        clock=words.clock(reading.measured_at),
        who=reading.read_by.name,
        pk=reading.pk,
        error_mm=error_mm,
        is_out=is_out(reading, shown),
        struck=reading.strike.get_reason_display() if hasattr(reading, "strike") else "",
    )


def _zero_entry(check: ZeroCheck) -> Entry:
    return Entry(
        value=check.raw,
        unit=check.unit,
        shown=check.shown,
        clock=words.clock(check.at),
        who=check.by.name,
        kind=check.get_kind_display(),
    )
