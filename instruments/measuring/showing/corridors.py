"""Corridors of the bench: a point before and after its reading, a closing zero, a stored result."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.evaluation import Evaluated, Ground
from instruments.measuring.models import Point, Result, ZeroCheck
from instruments.measuring.showing import integers, words
from instruments.procedures.content import Content
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.limits import Limits, within_limits
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import View
from labsys.pages import figures
from labsys.pages.corridor import CorridorData, Earlier

U_NAMES = {View.CALIBRATION: "calibration U", View.TEST_VALUE: "test value U"}


def of_evaluated(
    found: Evaluated, ground: Ground, label: str, as_found: Earlier | None = None
) -> CorridorData | None:
    """Draw what the readings of a point say; one without a reading stands without a mark. None without limits."""
    if found.decision is None:
        return None
    code = code_of(found)
    data = CorridorData(
        label=label,
        error_mm=found.error_mm,
        U_mm=from_picometres(to_picometres(found.decision.U_used_mm)),
        lower_mm=found.limits.lower,
        upper_mm=found.limits.upper,
        verdict=str(found.decision.verdict),
        unit=ground.model.unit,
        step_text=words.step_text(ground.model, ground.content, code),
        as_found=as_found,
        U_name=U_NAMES[found.decision.view],
        is_read=found.reading is not None or found.point is None,
    )
    return _with_acceptance(data, found.decision.acceptance)


def code_of(found: Evaluated) -> str:
    """Give the function or series that a result comes of; empty for a zero."""
    point = found.point or next(iter(found.points), None)
    return "" if point is None else point.function


def of_closing(check: ZeroCheck | None, expected_mm: Decimal, ground: Ground) -> CorridorData:
    """Draw the closing zero between the steps it may move."""
    model = ground.model
    limits = integers.closing_limits(ground)
    moved_mm = Decimal(0) if check is None else check.value_mm - expected_mm
    verdict = Verdict.IN_TOLERANCE if within_limits(moved_mm, limits) else Verdict.OUT_OF_TOLERANCE
    return CorridorData(
        label="Closing zero",
        error_mm=moved_mm,
        lower_mm=limits.lower,
        upper_mm=limits.upper,
        verdict=str(verdict),
        unit=model.unit,
        step_text=words.step_text(model, ground.content),
        is_read=check is not None,
    )


def of_result(
    result: Result, model: GaugeModel, content: Content, earlier: Earlier | None = None
) -> CorridorData | None:
    """Draw a stored result as it was judged; ``earlier`` is the same point as found. None without limits."""
    decision = json.loads(result.decision)
    if "view" not in decision:
        return None
    view, point = View(decision["view"]), first_point(result)
    data = CorridorData(
        label=of_label(result, model, content),
        error_mm=result.value_mm,
        U_mm=result.U_mm if view is View.CALIBRATION else result.U_test_mm,
        lower_mm=result.lower_mm,
        upper_mm=result.upper_mm,
        verdict=result.verdict,
        unit=model.unit,
        step_text=_step_text(model, content, point),
        as_found=earlier,
        U_name=U_NAMES[view],
    )
    bounds = (decision["acceptance_lower_mm"], decision["acceptance_upper_mm"])
    return _with_acceptance(data, Limits(*(None if text is None else Decimal(text) for text in bounds)))


def of_label(result: Result, model: GaugeModel, content: Content) -> str:
    """Name a result by its point, Outside 41.3 mm, near the beam, or by what several points have together."""
    point = first_point(result)
    if result.name:
        return result.name
    return "Zero as found" if point is None else words.point(point, model.unit, content)


def first_point(result: Result) -> Point | None:
    """Give the point of a result, the first of several; a zero has none."""
    return next(iter(result.points.all()), None)


def _step_text(model: GaugeModel, content: Content, point: Point | None) -> str:
    if point is None or content.series_of(point.function) is None:
        return figures.plain(model.resolution)
    return words.step_text(model, content, point.function)


def _with_acceptance(data: CorridorData, accepted: Limits) -> CorridorData:
    """Add the acceptance limits where they lie elsewhere than the limits."""
    if (accepted.lower, accepted.upper) == (data.lower_mm, data.upper_mm):
        return data
    return replace(data, acceptance_lower_mm=accepted.lower, acceptance_upper_mm=accepted.upper)
