"""The worked caliper of common practice, through whole sessions (common practice, no source).

A 150 mm / 6 in digital caliper, step 0.0005 in, limits ±0.001 in, reference deviations nought, all at 20.0 °C.
Errors: −0.0005 in at 1, 2 and 6 in outside (near the beam, middle, tips) and inside, −0.001 in in a 0.2 in ring,
+0.0005 in depth, −0.001 in step. The limit itself is inside, in exact decimal arithmetic.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from instruments.measuring.models import Point, Result
from instruments.procedures.content import Band, Content, Repeatability
from instruments.procedures.shipped import caliper
from labsys.metrology.acceptance import AccuracyRatioTooLow
from tests import laboratory
from tests.bench import Player
from tests.laboratory import Lab

D = Decimal
STEPS = {("outside", "near_beam"): -1, ("outside", "middle"): -1, ("outside", "tips"): -1}
STEPS |= {("inside", ""): -1, ("small_bore", ""): -2, ("depth", ""): 1, ("step", ""): -2}
# Ten closings 0 0 1 0 1 0 0 1 0 0 in steps of 0.0005 in: s = 0.483 steps = 6.13 µm, nine degrees of freedom.
CLOSINGS_S_MM = D("0.006134")


def worked_content(repeatability: Repeatability | None = None) -> Content:
    """Give the shipped procedure with the lengths of the worked case, and its repeatability."""
    points = caliper().points
    assert points is not None
    band = Band(range_up_to_mm=D(160), least_points=3, lengths_in=(D(1), D(2), D(6)))
    changed = replace(points, bands=(band,), longest_at=("tips",))
    return laboratory.shipped(points=changed, repeatability=repeatability)


def measured(lab: Lab, rule: dict[str, str], sit: Callable[..., Player]) -> list[Result]:
    """Measure the worked caliper under a rule and hand it in."""
    laboratory.agreed(lab, rule=rule)
    player = sit(laboratory.caliper_gauge(lab, laboratory.caliper_model(lab, inch=True)))
    player.begin()
    player.read_off(_steps)
    submission = player.finish()
    return list(Result.objects.filter(submission=submission).prefetch_related("points"))


def _steps(point: Point) -> int:
    return STEPS.get((point.function, point.place), STEPS.get((point.function, ""), 0))


def accepted(results: list[Result]) -> set[str]:
    """Name what was found in tolerance."""
    return {_name(result) for result in results if result.verdict == "in_tolerance"}


def _name(result: Result) -> str:
    point = result.points.all()[0]
    return f"{point.function} {point.place}".strip()


ALL = {"outside near_beam", "outside middle", "outside tips", "inside", "small_bore", "depth", "step"}
WITHIN = ALL - {"small_bore", "step"}


@pytest.fixture
def content(request: pytest.FixtureRequest) -> Content:
    """Give the worked content, with the repeatability a test asks for."""
    return worked_content(getattr(request, "param", None))


def test_simple_acceptance_on_the_test_value_takes_all_seven(lab: Lab, sit: Callable[..., Player]) -> None:
    results = measured(lab, {"kind": "simple", "min_ratio": "4", "view": "test_value"}, sit)
    assert {_name(r): r.value_mm for r in results} == {
        "outside near_beam": D("-0.0127"),
        "outside middle": D("-0.0127"),
        "outside tips": D("-0.0127"),
        "inside": D("-0.0127"),
        "small_bore": D("-0.0254"),
        "depth": D("0.0127"),
        "step": D("-0.0254"),
    }
    assert accepted(results) == ALL


def test_a_guard_of_the_test_value_u_takes_five(lab: Lab, sit: Callable[..., Player]) -> None:
    results = measured(lab, {"kind": "guarded", "g": "1", "view": "test_value"}, sit)
    assert accepted(results) == WITHIN
    assert {r.verdict for r in results if _name(r) in {"small_bore", "step"}} == {"not_accepted"}
    assert all(r.within_limits for r in results), "the limit itself is inside"


def test_a_guard_of_the_calibration_u_without_a_study_takes_the_same_five_by_a_hair(
    lab: Lab,
    sit: Callable[..., Player],
) -> None:
    results = measured(lab, {"kind": "guarded", "g": "1", "view": "calibration"}, sit)
    assert accepted(results) == WITHIN
    spare = [D("0.0254") - abs(r.value_mm) - r.U_mm for r in results if _name(r) in WITHIN]
    assert all(D(0) <= left < D("0.001") for left in spare), "by less than a micrometre"


@pytest.mark.parametrize("content", [Repeatability(CLOSINGS_S_MM, 9, "ten closings")], indirect=True)
def test_a_guard_of_the_calibration_u_with_ten_closings_takes_none(
    lab: Lab, sit: Callable[..., Player]
) -> None:
    results = measured(lab, {"kind": "guarded", "g": "1", "view": "calibration"}, sit)
    assert accepted(results) == set()
    assert all(abs(r.U_mm - D("0.0163")) < D("0.0001") for r in results), "U is about 16.3 µm"


def test_simple_acceptance_on_the_calibration_u_is_refused_by_name(
    lab: Lab, sit: Callable[..., Player]
) -> None:
    with pytest.raises(AccuracyRatioTooLow) as refusal:
        measured(lab, {"kind": "simple", "min_ratio": "4", "view": "calibration"}, sit)
    assert round(refusal.value.data["found"]) == 2, "an accuracy ratio of about 2"
