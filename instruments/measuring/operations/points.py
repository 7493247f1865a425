"""Laying out a run's points with their references, and changing the plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime
from decimal import Decimal
from typing import ClassVar

from django.db.models import Max

from instruments.measuring.access import MEASURE
from instruments.measuring.models import Point, PointReference, PointVoid, Run, RunStandard
from instruments.measuring.operations.gate import require_open, require_reason
from instruments.measuring.planning import pieces_of
from instruments.procedures.planner import PlannedPoint, Proposal, propose
from instruments.procedures.queries import content_of
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.pages.figures import said_size
from standards.register.models import Element, ElementValue
from standards.register.queries import Available, all_available, require_usable, require_value

INDICATING, COMPARED = -1, 1
"""∂result/∂reference: an error of indication is reading less reference, a size the reference and what is shown more."""


class NoReferenceChosen(LabError, ValueError):
    """A point is compared with something."""

    code: ClassVar[str] = "no-reference-chosen"
    sentence: ClassVar[str] = "Choose at least one element of a standard for this point."
    field: ClassVar[str | None] = "elements"


class ElementServesNot(LabError, ValueError):
    """An element made for another function."""

    code: ClassVar[str] = "element-serves-not"
    sentence: ClassVar[str] = "{element} does not serve {function}. Choose an element that does."
    field: ClassVar[str | None] = "elements"


class ElementTwice(LabError, ValueError):
    """One piece can't be in a set-up more than once."""

    code: ClassVar[str] = "element-twice"
    sentence: ClassVar[str] = (
        "{element} is one piece and was chosen {count} times for one point. Choose other elements to make the length."
    )
    field: ClassVar[str | None] = "elements"


class PointBeyondGauge(LabError, ValueError):
    """A length that the gauge can't take in."""

    code: ClassVar[str] = "point-beyond-gauge"
    sentence: ClassVar[str] = (
        "The elements chosen make {length}, and {model} measures from {low} to {high}. Choose others."
    )
    field: ClassVar[str | None] = "elements"


class NothingToPlan(LabError):
    """Nothing more can be planned with what is available."""

    code: ClassVar[str] = "nothing-to-plan"
    sentence: ClassVar[str] = "Nothing more can be planned now. {missing}"


class PointAlreadyVoid(LabError):
    """A void point is not voided again."""

    code: ClassVar[str] = "point-already-void"
    sentence: ClassVar[str] = "This point is already void. Take the newer attempt."


def lay_out(run: Run, now: datetime) -> list[str]:
    """Make the points that the procedure proposes with the standards available now; gives what is missing."""
    offered = all_available(now)
    proposal = _proposal(run, offered)
    _make(run, proposal.points, 0, _Picked(run, now, offered))
    return list(proposal.missing)


def _proposal(run: Run, offered: Sequence[Available]) -> Proposal:
    gauge = run.session.gauge
    return propose(
        model=gauge.model,
        functions=tuple(gauge.functions),
        content=content_of(run.session.revision),
        available=lambda function: [one for one in offered if function in one.element.functions],
        members=pieces_of(gauge),
    )


def _make(run: Run, planned: Sequence[PlannedPoint], after: int, picked: _Picked) -> list[Point]:
    """Make planned points, numbered on from ``after``, with their references; two inserts, however many they are."""
    made = Point.objects.bulk_create(
        Point(
            run=run,
            sequence=number,
            function=one.function,
            place=one.place,
            direction=one.direction,
            member_id=one.member,
            nominal_mm=one.nominal_mm,
            created_at=picked.now,
        )
        for number, one in enumerate(planned, start=after + 1)
    )
    references = [
        reference
        for point, one in zip(made, planned, strict=True)
        for reference in _references(
            point, [(picked.offered[pk].element, count) for pk, count in one.elements], picked
        )
    ]
    PointReference.objects.bulk_create(references)
    return made


class _Picked:
    """The standards of a run as they are picked now: each looked at once, however many points use it.

    ``offered`` were read as available at the very same moment, so that their values need no second look.
    """

    def __init__(self, run: Run, now: datetime, offered: Sequence[Available] = ()) -> None:
        self.run = run
        self.now = now
        self.offered = {one.element.pk: one for one in offered}
        self._values = {pk: one.value for pk, one in self.offered.items()}
        self._standards: set[int] = set()

    def value_of(self, element: Element) -> ElementValue:
        """Give the element's value in force now, its standard checked now; raises what ``require_value`` raises."""
        if element.pk not in self._values:
            self._values[element.pk] = require_value(element, self.now)
        if element.standard_id not in self._standards:
            calibration = require_usable(element.standard, self.now)
            RunStandard.objects.get_or_create(
                run=self.run,
                standard=element.standard,
                defaults={"calibration": calibration, "picked_at": self.now},
            )
            self._standards.add(element.standard_id)
        return self._values[element.pk]


@act("measuring.plan-missing")
def plan_missing(*, run: Run, by: Person, now: datetime) -> list[Point]:
    """Plan with the standards of now what no point was planned for: functions, series and members without any.

    What a standard was missing for when the session opened may have one by now. Raises NothingToPlan.
    """
    require(by, MEASURE)
    require_open(run.session)
    rows = list(run.points.filter(void=None).values_list("function", "member_id"))
    last = run.points.aggregate(last=Max("sequence"))["last"] or 0
    offered = all_available(now)
    proposal = _proposal(run, offered)
    lacking = [one for one in proposal.points if (one.function, one.member) not in rows]
    if not lacking:
        raise NothingToPlan(missing=" ".join(proposal.missing) or "Every function and series has its points.")
    made = _make(run, lacking, last, _Picked(run, now, offered))
    note(f"session:{run.session_id}", after={"planned": [str(point) for point in made]})
    return made


def refer(point: Point, elements: Sequence[tuple[Element, int]], now: datetime) -> None:
    """Write what a point is compared with: each element's value in force now, its standard checked now.

    A series that is compared with nothing has no references. Raises NoReferenceChosen, ElementServesNot, and what
    ``require_value`` raises (StandardOutOfRange and the others).
    """
    PointReference.objects.bulk_create(_references(point, elements, _Picked(point.run, now)))


def _references(
    point: Point, elements: Sequence[tuple[Element, int]], picked: _Picked
) -> Iterator[PointReference]:
    content = content_of(point.run.session.revision)
    function, series = content.serving(point.function), content.series_of(point.function)
    if not elements and function:
        raise NoReferenceChosen()
    for element, count in elements:
        if function not in element.functions:
            raise ElementServesNot(element=str(element), function=function.replace("_", " "))
        value = picked.value_of(element)
        yield PointReference(
            point=point,
            element_value=value,
            # What serves every length up to its own is used at the length of the point.
            nominal_mm=point.nominal_mm if element.continuous else element.nominal_mm,
            deviation_mm=value.deviation_mm,
            count=count,
            sensitivity=COMPARED if series is not None and series.reads == "difference" else INDICATING,
        )


@act("measuring.add-point")
def add_point(
    *,
    run: Run,
    function: str,
    place: str,
    elements: Sequence[tuple[Element, int]],
    by: Person,
    now: datetime,
) -> Point:
    """Add a point to a run beyond what was proposed."""
    require(by, MEASURE)
    require_open(run.session)
    last = run.points.aggregate(last=Max("sequence"))["last"] or 0
    point = Point.objects.create(
        run=run,
        sequence=last + 1,
        function=function,
        place=place,
        nominal_mm=_length(run, elements),
        created_at=now,
    )
    refer(point, elements, now)
    note(f"session:{run.session_id}", after={"point": point.pk, "added": str(point), "place": place})
    return point


@act("measuring.void-point")
def void_point(*, point: Point, reason: str, by: Person, now: datetime) -> PointVoid:
    """Take a point out of the plan; it stays visible with its reason, and a rule it leaves open blocks handing in."""
    require(by, MEASURE)
    require_open(point.run.session)
    require_reason(reason, "leaving a point out")
    return _void(point, reason, now)


@act("measuring.retake-point")
def retake_point(
    *, point: Point, elements: Sequence[tuple[Element, int]] | None, reason: str, by: Person, now: datetime
) -> Point:
    """Void a point and take it again as its next attempt, with the same references or with others."""
    require(by, MEASURE)
    require_open(point.run.session)
    require_reason(reason, "taking a point again")
    _void(point, reason, now)
    if elements is None:
        elements = [
            (row.element_value.element, row.count)
            for row in point.references.select_related("element_value__element__standard__tag")
        ]
    return renew(point, elements, now)


def renew(point: Point, elements: Sequence[tuple[Element, int]], now: datetime) -> Point:
    """Make the next attempt of a void point."""
    attempt = point.run.points.filter(sequence=point.sequence).aggregate(last=Max("attempt"))["last"] or 0
    again = Point.objects.create(
        run=point.run,
        sequence=point.sequence,
        attempt=attempt + 1,
        function=point.function,
        place=point.place,
        direction=point.direction,
        member=point.member,
        nominal_mm=_nominal(point, elements),
        created_at=now,
    )
    refer(again, elements, now)
    return again


def _nominal(point: Point, elements: Sequence[tuple[Element, int]]) -> Decimal:
    """Give the length of a point that is taken again: its references', or the size that is measured whatever they are.

    Raises what ``_length`` raises.
    """
    series = content_of(point.run.session.revision).series_of(point.function)
    any_length = not elements or any(element.continuous for element, _count in elements)
    own = series is not None and (series.reads != "indication" or any_length)
    return point.nominal_mm if own else _length(point.run, elements)


def _length(run: Run, elements: Sequence[tuple[Element, int]]) -> Decimal:
    """Add up the nominals; raises ElementTwice and PointBeyondGauge."""
    used = Counter[Element]()
    for element, count in elements:
        used[element] += count
    for element, count in used.items():
        if count > 1:
            raise ElementTwice(element=str(element), count=count)
    model, length = run.session.gauge.model, sum((element.nominal_mm for element in used), Decimal(0))
    if not model.range_low_mm <= length <= model.range_high_mm:
        ends = (model.range_low_mm, model.range_high_mm)
        low, high, made = (said_size(value, model.unit) for value in (*ends, length))
        raise PointBeyondGauge(length=made, low=low, high=high, model=str(model))
    return length


def _void(point: Point, reason: str, now: datetime) -> PointVoid:
    row, created = PointVoid.objects.get_or_create(point=point, defaults={"reason": reason, "at": now})
    if not created:
        raise PointAlreadyVoid()
    note(f"session:{point.run.session_id}", reason=reason, after={"point": point.pk, "void": True})
    return row
