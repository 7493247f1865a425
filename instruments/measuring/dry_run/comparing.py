"""Stored results laid beside what a draft makes of the same readings.

Lives here: which belong together, and the figures of both. May not live here: sentences about them (reasons.py).
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from instruments.inventory.models import GaugeModel
from instruments.measuring.dry_run.judging import Found, Judged
from instruments.measuring.dry_run.past import PastRun
from instruments.measuring.dry_run.reasons import why
from instruments.measuring.dry_run.record import ADDED, AGAIN, NOT_JUDGED, REFUSED, Figures, Line
from instruments.measuring.evaluation import Evaluated, limits_with_floor
from instruments.measuring.models import Result
from instruments.measuring.showing import corridors, words
from instruments.procedures.content import Content
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.exact import plain
from labsys.metrology.limits import Limits
from labsys.metrology.repeats import spread_allowed
from labsys.metrology.views import View

ZERO = (0,)
"""What stands for the points of a zero."""

NOT_THE_DRAFTS = (
    "Not all of this is the draft's: by its own revision, too, the record gives other figures today than were stored, "
    "so that a fact of the model, or the program, changed since."
)


@dataclass(frozen=True)
class Sides:
    """The contents of a comparison: the session's own and the draft, for one model of gauge."""

    own: Content
    draft: Content
    model: GaugeModel


def lines_of(past: PastRun, judged: Judged, sides: Sides, stage: str) -> list[Line]:
    """Lay the results of one run beside what the draft makes of it, in their stored order; what is new comes last."""
    left = list(judged.found)
    lines = []
    for result in past.results:
        now = _taken(left, result)
        if now is None:
            lines.append(_unjudged(result, judged, sides, stage))
        else:
            lines.append(_both(result, now, sides, stage))
    return [*lines, *(_added(one, sides, stage) for one in left)]


def drifted(results: Iterable[Result], own: Judged, of: Content) -> set[int]:
    """Find the results that their own revision, too, would judge otherwise today than was stored; by id."""
    left = list(own.found)
    pairs = [(result, _taken(left, result)) for result in results]
    return {
        result.pk
        for result, found in pairs
        if found is not None and figures_then(result, of) != figures_now(found.evaluated)
    }


def _taken(left: list[Found], result: Result) -> Found | None:
    """Take out of what is left what was found of the same points; of several, that with the same limits first."""
    points = frozenset(point.pk for point in result.points.all()) or frozenset(ZERO)
    alike = [
        one
        for one in left
        if _points_of(one.evaluated) == points
        and one.evaluated.is_common == bool(result.name)
        and (not one.evaluated.is_common or one.evaluated.kind == result.kind)
    ]
    if not alike:
        return None
    best = next((one for one in alike if one.evaluated.function == result.function), alike[0])
    left.remove(best)
    return best


def _points_of(found: Evaluated) -> frozenset[int]:
    points = found.points if found.point is None else (found.point,)
    return frozenset(point.pk for point in points) or frozenset(ZERO)


def figures_then(result: Result, own: Content) -> Figures:
    """Give the figures of a result as they were stored; whether its spread was allowed follows from its revision."""
    return Figures(
        error_mm=_text(result.value_mm),
        U_mm=_text(result.U_mm),
        U_test_mm=_text(result.U_test_mm),
        verdict=result.verdict,
        is_rejected=_was_rejected(result, own),
    )


def _was_rejected(result: Result, own: Content) -> bool:
    spread = json.loads(result.decision).get("spread_mm")
    point = corridors.first_point(result)
    if spread is None or point is None or result.name:
        return False
    limits = limits_with_floor(result.kind, Limits(result.lower_mm, result.upper_mm))
    allowed = spread_allowed(limits, spread_limit_mm=own.spread_limit_at(point.function))
    return allowed is not None and Decimal(spread) > allowed


def figures_now(found: Evaluated) -> Figures:
    """Give the figures of a result as a content makes it, rounded as they would be stored."""
    views = found.views
    return Figures(
        error_mm=_text(found.error_mm),
        U_mm="" if views is None else _rounded(views.calibration.U_mm),
        U_test_mm="" if views is None else _rounded(views.test_value.U_mm),
        verdict="" if found.verdict is None else str(found.verdict),
        is_rejected=found.is_rejected,
    )


def _both(result: Result, found: Found, sides: Sides, stage: str) -> Line:
    now = found.evaluated
    then_is, now_is = figures_then(result, sides.own), figures_now(now)
    return Line(
        **_head(result, sides, stage),
        judged=REFUSED if found.refusal else AGAIN,
        view=_view_then(result) if now.decision is None else str(now.decision.view),
        then=then_is,
        now=now_is,
        why=found.refusal
        or ("" if then_is == now_is else why(result, now, then_is, now_is, sides.model.quantity)),
    )


def _unjudged(result: Result, judged: Judged, sides: Sides, stage: str) -> Line:
    reasons = (judged.unjudged.get(point.pk, "") for point in result.points.all())
    reason = next((one for one in reasons if one), "")
    if result.name and (judged.unjudged_series or reason):
        reason = " ".join(judged.unjudged_series) or reason
    return Line(
        **_head(result, sides, stage),
        judged=NOT_JUDGED,
        view=_view_then(result),
        then=figures_then(result, sides.own),
        now=Figures(),
        why=reason or "The draft has no such result.",
    )


def _added(one: Found, sides: Sides, stage: str) -> Line:
    found = one.evaluated
    code = corridors.code_of(found)
    label = found.name or ("Zero as found" if found.point is None else "")
    return Line(
        stage=stage,
        label=label or words.point(found.point, sides.model.unit, sides.draft),  # type: ignore[arg-type]
        kind=found.kind,
        unit=sides.model.unit,
        places=words.error_places(sides.model, sides.draft, code),
        judged=ADDED,
        view=str(View.CALIBRATION if found.decision is None else found.decision.view),
        then=Figures(),
        now=figures_now(found),
        why=f"Only the draft comes to this result. {one.refusal}".strip(),
    )


def _head(result: Result, sides: Sides, stage: str) -> dict[str, Any]:
    point = corridors.first_point(result)
    code = "" if point is None else point.function
    return {
        "stage": stage,
        "label": corridors.of_label(result, sides.model, sides.own),
        "kind": result.kind,
        "unit": sides.model.unit,
        "places": words.error_places(sides.model, sides.own, code),
    }


def _view_then(result: Result) -> str:
    return str(json.loads(result.decision).get("view", View.CALIBRATION))


def _text(value: Decimal | None) -> str:
    return "" if value is None else f"{plain(value):f}"


def _rounded(value_mm: float) -> str:
    return _text(from_picometres(to_picometres(value_mm)))
