"""The trial before approval: an empty acceptance zone is refused then, not met at the bench."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from scipy.special import stdtrit

from instruments.inventory.queries import limits_at
from instruments.procedures.models import Revision
from instruments.procedures.operations import approve_revision
from instruments.procedures.shipped import NoStartingLimits, caliper, caliper_limits
from instruments.procedures.trial import RuleNotWorkable, require_workable, try_out
from tests import laboratory
from tests.instruments.procedures.conftest import NOW
from tests.laboratory import Lab, proof, shipped

D = Decimal
GUARDED = {"kind": "guarded", "view": "calibration", "g": "1"}


def test_without_limits_there_is_nothing_to_try_on(lab: Lab) -> None:
    assert try_out(caliper(), lab.family, NOW) == []
    require_workable(caliper(), lab.family, NOW)


def test_both_uncertainties_at_the_far_end_of_a_line(lab: Lab) -> None:
    laboratory.caliper_model(lab)
    found = {trial.function: trial for trial in try_out(caliper(), lab.family, NOW)}
    assert set(found) == {"outside", "inside", "depth", "step", "small_bore"}
    outside = found["outside"]
    assert (outside.length_mm, outside.limits.lower, outside.limits.upper) == (D(150), D("-0.03"), D("0.03"))
    # By hand, in µm, at 150 mm: standard 3.75/2; a year's change (0.05 + 0.075)/√3; three joints √3·0.05/√3;
    # 0.5 K: 150 000·11.5e-6·0.5/√3; expansion 150 000·2e-6/√6·√(2² + 1/3). Root sum of squares 1.9594, k = 2.000.
    assert outside.U_test_mm == pytest.approx(0.0039188, abs=2e-6)
    # Besides: half a step for the zero and ±5 µm for the jaws, both rectangular, s = 4.83 µm with 9 degrees of freedom.
    u = math.sqrt(1.9594**2 + 2 * 5**2 / 3 + 4.83**2)
    freedom = math.floor(u**4 / (4.83**4 / 9))  # Welch and Satterthwaite (JCGM 100, G.4.1): 31
    assert outside.U_mm == pytest.approx(stdtrit(freedom, (1 + 0.9545) / 2) * u / 1000, abs=2e-6)
    assert outside.acceptance == outside.limits


def test_a_rule_that_leaves_nothing_to_accept_is_refused_at_approval_by_name(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    laboratory.caliper_model(lab, limit_mm="0.01")
    row = draft(rule=GUARDED)
    with pytest.raises(RuleNotWorkable, match=r"C-150, outside at 150 mm\. Expected room for acceptance"):
        approve_revision(revision=row, proof=proof(lab.reviewer, NOW), by=lab.reviewer, now=NOW)
    row.refresh_from_db()
    assert row.approved_at is None


def test_a_rule_that_leaves_a_little_is_not(lab: Lab, draft: Callable[..., Revision]) -> None:
    laboratory.caliper_model(lab, limit_mm="0.0145")
    row = draft(rule=GUARDED)
    approve_revision(revision=row, proof=proof(lab.reviewer, NOW), by=lab.reviewer, now=NOW)
    [trial] = [t for t in try_out(shipped(rule=GUARDED), lab.family, NOW) if t.function == "outside"]
    assert trial.acceptance is not None and trial.acceptance.upper is not None
    assert D(0) < trial.acceptance.upper < D("0.001")


def test_simple_acceptance_on_the_calibration_uncertainty_is_refused_for_its_ratio(lab: Lab) -> None:
    laboratory.caliper_model(lab, inch=True)
    content = shipped(rule={"kind": "simple", "view": "calibration", "min_ratio": "4"})
    with pytest.raises(RuleNotWorkable, match="accuracy ratio of at least 4"):
        require_workable(content, lab.family, NOW)


def test_a_fixed_zero_adds_nothing_and_a_dial_is_read_finer_than_its_division(lab: Lab) -> None:
    def u(content: Any) -> float:
        [trial] = [t for t in try_out(content, lab.family, NOW) if t.function == "outside"]
        assert trial.U_mm is not None
        return trial.U_mm

    laboratory.caliper_model(lab, indication="dial", resolution=D("0.05"), limit_mm="0.1")
    shipped_u = u(caliper())
    assert u(replace(caliper(), zero=replace(caliper().zero, fixed=True))) < shipped_u
    assert u(replace(caliper(), readable_parts={"dial": 1})) > shipped_u


STARTS = [
    ("0.01", "mm", "150", "outside", D(150), "0.03"),
    ("0.01", "mm", "150", "inside", D(25), "0.04"),
    ("0.02", "mm", "300", "outside", D(50), "0.02"),
    ("0.05", "mm", "600", "outside", D(600), "0.08"),
    ("0.05", "mm", "600", "depth", D(25), "0.07"),
    ("0.0005", "in", "152.4", "outside", D("152.4"), "0.0254"),
    ("0.001", "in", "304.8", "outside", D(300), "0.0508"),
]


@pytest.mark.parametrize(("step", "unit", "high", "function", "length", "limit"), STARTS)
def test_limits_to_start_with_follow_their_sources_and_stay_unconfirmed(
    step: str, unit: str, high: str, function: str, length: Decimal, limit: str
) -> None:
    # DIN 862 as shown in a public one-page extract; TB 9-5210-208-35 for inches.
    start = caliper_limits(
        step=D(step), unit=unit, range_high_mm=D(high), functions=("outside", "inside", "depth", "step")
    )
    found = limits_at(start.rows, function, length)
    assert found is not None and (found.lower, found.upper) == (-D(limit), D(limit))
    assert start.confirmed is False and start.source


def test_no_limits_are_made_up_where_no_source_shows_any() -> None:
    for step, unit, high in (
        ("0.03", "mm", "150"),
        ("0.01", "mm", "1200"),
        ("0.0001", "in", "152.4"),
        ("0.02", "mm", "2500"),
    ):
        with pytest.raises(NoStartingLimits):
            caliper_limits(step=D(step), unit=unit, range_high_mm=D(high), functions=("outside",))
