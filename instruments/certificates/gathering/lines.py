"""The results of a certificate: each judged result as a line, the lines of a run as a stage.

Every verdict is worked out once more from what was stored and must come out the same; nothing is judged anew.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar, Literal

from instruments.certificates.document import results as r
from instruments.certificates.document.conformity import chance
from instruments.certificates.gathering.figures import length_text
from instruments.certificates.gathering.sources import Sources
from instruments.measuring.evaluation import NON_NEGATIVE, limits_with_floor
from instruments.measuring.models import Point, Result, Run
from instruments.measuring.showing.values import fit_words
from instruments.measuring.showing.words import step_text
from instruments.procedures.content import ZEROS, Content, Series, place_words
from instruments.procedures.content.lengths import EveryMember, NoLength
from instruments.procedures.content.series import DIRECTIONS
from labsys.errors import LabError
from labsys.laboratory.queries import local_date
from labsys.metrology.budget import Budget
from labsys.metrology.coverage import Shape
from labsys.metrology.decision import Decision, Limits, decide
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.reporting import (
    Reported,
    Rounding,
    format_signed,
    report,
    uncertainty_sentence,
    uncertainty_sentence_of,
)
from labsys.metrology.units import Unit, decimals_shown
from labsys.metrology.verdicts import Verdict, roll_up
from labsys.metrology.views import Views
from labsys.pages.figures import said_size

FEW_SENTENCES = 4
"""So many sentences that differ in their degrees of freedom alone still read well."""


class ResultNotReproduced(LabError):
    """A stored verdict doesn't follow from what is stored beside it."""

    code: ClassVar[str] = "result-not-reproduced"
    sentence: ClassVar[str] = (
        "The result {function} at {length} is stored as {stored}, but its own error, limits, rule and uncertainty "
        "give {found}. Nothing was signed. Return the session, and tell the administrator."
    )


@dataclass(frozen=True)
class Judged:
    """One stored result with what it was judged with, and the verdict worked out again for what is printed.

    ``views`` and ``reported`` are None of what only fits or doesn't, ``decision`` also where no limit was agreed.
    """

    result: Result
    points: tuple[Point, ...]
    stored: dict[str, Any]
    views: Views | None
    decision: Decision | None
    reported: Reported | None

    @property
    def point(self) -> Point | None:
        """The point it is the result of; None of what several have together, and of a zero."""
        return None if self.result.name or not self.points else self.points[0]

    @property
    def is_deviation(self) -> bool:
        """Say whether a size was measured: then the size itself is told beside its deviation."""
        return self.result.kind == Result.Kind.DEVIATION

    @property
    def length_mm(self) -> Decimal:
        """The reference length at 20 °C."""
        return Decimal(self.stored["length_mm"])

    @property
    def nominal_mm(self) -> Decimal:
        """The nominal length; a zero has none but zero, several points the longest."""
        return max((point.nominal_mm for point in self.points), default=Decimal(0))


def judged_results(sources: Sources) -> tuple[Judged, ...]:
    """Work out every result of the stages reported once more; raises ResultNotReproduced where one differs."""
    return tuple(_judged(result, sources) for result in sources.results)


def _judged(result: Result, sources: Sources) -> Judged:
    stored, points = json.loads(result.decision), tuple(result.points.all())
    if not result.budget:
        return Judged(result, points, stored, None, None, None)
    views = Views.from_json(json.loads(result.budget))
    digits: Literal[1, 2] = 1 if sources.content.digits == 1 else 2
    reported = report(
        result.value_mm,
        views.calibration.U_mm,
        digits=digits,
        rounding=_rounding(sources),
        unit=Unit(sources.model.unit),
    )
    if not result.verdict:
        return Judged(result, points, stored, views, None, reported)
    base = sources.model.quantity.base
    decision = decide(
        error_mm=result.value_mm,
        limits=limits_with_floor(result.kind, Limits(result.lower_mm, result.upper_mm, unit=base)),
        rule=sources.basis.decision_rule(),
        views=views,
        reported_error_mm=reported.error_mm,
    )
    if decision.verdict.value != result.verdict:
        raise ResultNotReproduced(
            function=result.function,
            length=said_size(Decimal(stored["length_mm"]), sources.model.unit),
            stored=result.verdict,
            found=decision.verdict.value,
            subject=f"submission:{sources.submission.pk}",
        )
    return Judged(result, points, stored, views, decision, reported)


def _rounding(sources: Sources) -> Rounding:
    return Rounding(sources.content.rounding.replace("-", "_"))


def stages(sources: Sources, judged: tuple[Judged, ...]) -> tuple[r.Stage, ...]:
    """Give the stages that have results, their lines numbered through."""
    made, first = [], 1
    for run in sources.runs:
        mine = [one for one in judged if one.result.run_id == run.pk]
        if mine:
            made.append(_stage(run, mine, first, sources))
            first += len(mine)
    return tuple(made)


def _stage(run: Run, judged: list[Judged], first: int, sources: Sources) -> r.Stage:
    start, end = sources.span(run)
    return r.Stage(
        name=run.stage,
        measured_from=local_date(start),
        measured_to=local_date(end),
        lines=tuple(_line(first + n, one, sources) for n, one in enumerate(judged)),
        zero=zero_text(run, sources.content),
        verdict=_rolled(judged),
    )


def _line(number: int, one: Judged, sources: Sources) -> r.Line:
    result, decision = one.result, one.decision
    zone = None if decision is None else decision.acceptance
    series = _series(one, sources)
    return r.Line(
        number=number,
        function=result.function,
        place=one.point.place if one.point and series is None else "",
        nominal_mm=one.nominal_mm,
        reference_mm=one.length_mm,
        reading_mm=_shown_mm(one),
        error_mm=result.value_mm,
        U_mm=result.U_mm,
        k=result.k,
        printed=_printed(one, series, sources),
        standards=_standards(one.points),
        lower_mm=result.lower_mm,
        upper_mm=result.upper_mm,
        acceptance_lower_mm=None if zone is None else zone.lower,
        acceptance_upper_mm=None if zone is None else zone.upper,
        U_used_mm=None if decision is None else from_picometres(to_picometres(decision.U_used_mm)),
        verdict=result.verdict,
        conformance="" if decision is None else chance(decision.conformance_probability),
        note="" if decision is None else decision.note,
        kind=result.kind,
        name=_name(one, series, sources),
        step="" if series is None else step_text(sources.model, sources.content, series.code),
    )


def _series(one: Judged, sources: Sources) -> Series | None:
    return sources.content.series_of(one.points[0].function) if one.points else None


def _name(one: Judged, series: Series | None, sources: Sources) -> str:
    """Name what was measured, where it is no function at a place on the faces: series, piece, place, direction."""
    point = one.point
    if point is None and sources.content.zero.how == "plate" and not one.points:
        return f"Zero, {ZEROS['plate']}"
    if point is None or series is None:
        return one.result.name
    parts = (
        series.name,
        point.member.label if point.member and isinstance(series.lengths, EveryMember) else "",
        place_words(point.place) if point.place else "",
        DIRECTIONS.get(point.direction, ""),
    )
    return ", ".join(part for part in parts if part)


def _shown_mm(one: Judged) -> Decimal:
    """Give what the gauge showed, or the size that was found; of several readings the one judged."""
    reading = one.result.reading
    if one.is_deviation:
        return Decimal(one.nominal_mm + one.result.value_mm)
    if reading is not None:
        return Decimal(reading.value_mm)
    return Decimal(one.result.value_mm if one.result.name else one.length_mm + one.result.value_mm)


def _standards(points: tuple[Point, ...]) -> tuple[str, ...]:
    rows = (row for point in points for row in point.references.all())
    return tuple(sorted({row.element_value.element.standard.tag.text for row in rows}))


def _printed(one: Judged, series: Series | None, sources: Sources) -> r.Printed:
    unit = Unit(sources.model.unit)
    step = decimals_shown(sources.model.resolution)
    if one.reported is None:
        return r.Printed(length="–", reference="", reading="", error=fit_words(one.result.value_mm), U="–")
    signed = one.result.kind not in NON_NEGATIVE
    error = format_signed(
        one.result.value_mm, decimals=one.reported.decimals, unit=unit, rounding=_rounding(sources)
    )
    with_lengths = not one.result.name and one.result.kind != Result.Kind.VALUE
    return r.Printed(
        length=length_text(one.nominal_mm, unit, least=step) if _has_length(series) else "–",
        reference=length_text(one.length_mm, unit, least=max(step, one.reported.decimals), more=1)
        if with_lengths
        else "",
        reading=length_text(_shown_mm(one), unit, least=step) if with_lengths else "",
        error=error if signed else error.removeprefix("+"),
        U=f"{one.reported.U:f}",
    )


def _has_length(series: Series | None) -> bool:
    return series is None or not isinstance(series.lengths, NoLength)


def coverage(judged: tuple[Judged, ...]) -> tuple[r.Coverage, ...]:
    """Give each sentence about k and shape once, with the results it holds for.

    Where t-distributions differ in nothing but their degrees of freedom, and more than a few do, one sentence gives
    the least and the most.
    """
    numbered = [(number, one.views.calibration) for number, one in enumerate(judged, start=1) if one.views]
    several = [(number, budget) for number, budget in numbered if _is_t(budget)]
    if len({budget.nu_used for _number, budget in several}) <= FEW_SENTENCES:
        several = []
    apart = {number for number, _budget in several}
    found: dict[str, list[int]] = {}
    for number, budget in numbered:
        if number not in apart:
            found.setdefault(uncertainty_sentence(budget), []).append(number)
    rows = [r.Coverage(tuple(numbers), sentence) for sentence, numbers in found.items()]
    if several:
        sentence = uncertainty_sentence_of([budget for _number, budget in several])
        rows.append(r.Coverage(tuple(number for number, _budget in several), sentence))
    return tuple(rows)


def _is_t(budget: Budget) -> bool:
    return budget.shape is Shape.NORMAL_OR_T and math.isfinite(budget.nu_used)


def _rolled(judged: list[Judged]) -> str:
    verdicts = [Verdict(one.result.verdict) for one in judged if one.result.verdict]
    return roll_up(verdicts).value if verdicts else ""


def zero_text(run: Run, content: Content) -> str:
    """Say what the zero was as found, that it was set, and what it was at the end."""
    return " ".join(_zero_parts(run, content))


def _zero_parts(run: Run, content: Content) -> Iterator[str]:
    by_kind = {check.kind: check for check in run.zero_checks.all()}
    if found := by_kind.get("as-found"):
        yield f"Zero as found {found.shown}."
    if "set" in by_kind:
        on = ", with the outside faces" if content.points is not None else ""
        yield f"It was set once{on}, before measuring."
    if closing := by_kind.get("closing"):
        yield f"Zero at the end {closing.shown}."
