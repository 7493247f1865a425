"""The results of a certificate: each judged result as a line, the lines of a run as a stage.

Every verdict is worked out once more from what was stored and must come out the same; nothing is judged anew.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar, Literal

from instruments.certificates.document import results as r
from instruments.certificates.document.conformity import chance
from instruments.certificates.gathering.figures import length_text
from instruments.certificates.gathering.sources import Sources
from instruments.measuring.models import Point, Result, Run
from labsys.errors import LabError
from labsys.laboratory.queries import local_date
from labsys.metrology.decision import Decision, Limits, decide
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.reporting import Reported, Rounding, format_signed, report, uncertainty_sentence
from labsys.metrology.units import Unit, decimals_shown
from labsys.metrology.verdicts import Verdict, roll_up
from labsys.metrology.views import Views


class ResultNotReproduced(LabError):
    """A stored verdict doesn't follow from what is stored beside it."""

    code: ClassVar[str] = "result-not-reproduced"
    sentence: ClassVar[str] = (
        "The result {function} at {length} mm is stored as {stored}, but its own error, limits, rule and uncertainty "
        "give {found}. Nothing was signed. Return the session, and tell the administrator."
    )


@dataclass(frozen=True)
class Judged:
    """One stored result with what it was judged with, and the verdict worked out again for what is printed."""

    result: Result
    point: Point | None
    stored: dict[str, Any]
    views: Views
    decision: Decision
    reported: Reported

    @property
    def length_mm(self) -> Decimal:
        """The reference length at 20 °C."""
        return Decimal(self.stored["length_mm"])

    @property
    def nominal_mm(self) -> Decimal:
        """The nominal length; a zero has none but zero."""
        return self.point.nominal_mm if self.point else Decimal(0)


def judged_results(sources: Sources) -> tuple[Judged, ...]:
    """Work out every result of the stages reported once more; raises ResultNotReproduced where one differs."""
    return tuple(_judged(result, sources) for result in sources.results)


def _judged(result: Result, sources: Sources) -> Judged:
    stored = json.loads(result.decision)
    views = Views.from_json(json.loads(result.budget))
    digits: Literal[1, 2] = 1 if sources.content.digits == 1 else 2
    reported = report(
        result.value_mm,
        views.calibration.U_mm,
        digits=digits,
        rounding=_rounding(sources),
        unit=Unit(sources.model.unit),
    )
    decision = decide(
        error_mm=result.value_mm,
        limits=Limits(result.lower_mm, result.upper_mm),
        rule=sources.basis.decision_rule(),
        views=views,
        reported_error_mm=reported.error_mm,
    )
    if decision.verdict.value != result.verdict:
        raise ResultNotReproduced(
            function=result.function,
            length=stored["length_mm"],
            stored=result.verdict,
            found=decision.verdict.value,
            subject=f"submission:{sources.submission.pk}",
        )
    return Judged(result, next(iter(result.points.all()), None), stored, views, decision, reported)


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
        zero=zero_text(run),
        verdict=roll_up(Verdict(one.result.verdict) for one in judged).value,
    )


def _line(number: int, one: Judged, sources: Sources) -> r.Line:
    result, zone = one.result, one.decision.acceptance
    return r.Line(
        number=number,
        function=result.function,
        place=one.point.place if one.point else "",
        nominal_mm=one.nominal_mm,
        reference_mm=one.length_mm,
        reading_mm=result.reading.value_mm if result.reading else one.length_mm + result.value_mm,
        error_mm=result.value_mm,
        U_mm=result.U_mm,
        k=result.k,
        printed=_printed(one, sources),
        standards=_standards(one.point),
        lower_mm=result.lower_mm,
        upper_mm=result.upper_mm,
        acceptance_lower_mm=zone.lower,
        acceptance_upper_mm=zone.upper,
        U_used_mm=from_picometres(to_picometres(one.decision.U_used_mm)),
        verdict=result.verdict,
        conformance=chance(one.decision.conformance_probability),
        note=one.decision.note,
    )


def _standards(point: Point | None) -> tuple[str, ...]:
    if point is None:
        return ()
    tags = {row.element_value.element.standard.tag.text for row in point.references.all()}
    return tuple(sorted(tags))


def _printed(one: Judged, sources: Sources) -> r.Printed:
    unit = Unit(sources.model.unit)
    step = decimals_shown(sources.model.resolution)
    reading = one.result.reading
    return r.Printed(
        length=length_text(one.nominal_mm, unit, least=step),
        reference=length_text(one.length_mm, unit, least=max(step, one.reported.decimals), more=1),
        reading=length_text(
            reading.value_mm if reading else one.length_mm + one.result.value_mm, unit, least=step
        ),
        error=format_signed(
            one.result.value_mm, decimals=one.reported.decimals, unit=unit, rounding=_rounding(sources)
        ),
        U=f"{one.reported.U:f}",
    )


def coverage(judged: tuple[Judged, ...]) -> tuple[r.Coverage, ...]:
    """Give each sentence about k and shape once, with the results it holds for."""
    found: dict[str, list[int]] = {}
    for number, one in enumerate(judged, start=1):
        found.setdefault(uncertainty_sentence(one.views.calibration), []).append(number)
    return tuple(r.Coverage(tuple(numbers), sentence) for sentence, numbers in found.items())


def zero_text(run: Run) -> str:
    """Say what the zero was as found, that it was set, and what it was at the end."""
    return " ".join(_zero_parts(run))


def _zero_parts(run: Run) -> Iterator[str]:
    by_kind = {check.kind: check for check in run.zero_checks.all()}
    if found := by_kind.get("as-found"):
        yield f"Zero as found {found.raw} {found.unit}."
    if "set" in by_kind:
        yield "It was set once, with the outside faces, before measuring."
    if closing := by_kind.get("closing"):
        yield f"Zero at the end {closing.raw} {closing.unit}."
