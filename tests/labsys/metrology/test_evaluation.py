"""From a procedure's components to both views, and to verdicts: the worked calipers."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from labsys.metrology.budget import NothingToCombine
from labsys.metrology.components import BadComponent, Distribution
from labsys.metrology.coverage import NoSpread, Shape
from labsys.metrology.decision import AccuracyRatioTooLow, Limits, Rule, RuleKind, Verdict, decide
from labsys.metrology.error import error_of_indication
from labsys.metrology.evaluation import evaluate
from labsys.metrology.inputs import PointInputs, ReferenceUncertainty, Repeatability
from labsys.metrology.reporting import report
from labsys.metrology.specs import (
    Abbe,
    Constant,
    Geometry,
    Proportional,
    Reading,
    StandardValue,
    TemperatureDifference,
    Wringing,
    Zero,
)
from labsys.metrology.units import Unit, to_mm
from labsys.metrology.views import View, Views
from tests.labsys.metrology.calipers import CALIPER, GRADE_1_LIMIT_MM, on_a_block, repeatability
from tests.labsys.metrology.published import case, entry

TENTHS = [Decimal(n) / 1000 for n in case("caliper-budget")["inputs"]["closings_um"]]
STEP_MM = Decimal("0.01")


def facts(**changes: Any) -> PointInputs:
    usual: dict[str, Any] = {
        "length_mm": 100,
        "reading_half_width_mm": 0.005,
        "alpha_mean_per_k": 11.5e-6,
        "temperature_c": 20.0,
    }
    return PointInputs(**{**usual, **changes})


@pytest.mark.parametrize("row", case("caliper-budget")["expected"], ids=lambda row: f"{row['length_mm']} mm")
def test_worked_budget_of_a_digital_caliper(row: dict[str, Any]) -> None:
    limit = GRADE_1_LIMIT_MM[row["length_mm"]]
    views = evaluate(CALIPER, on_a_block(row["length_mm"], STEP_MM, limit_mm=limit, closings_mm=TENTHS))
    budget = views.calibration
    assert [found.contribution_mm * 1000 for found in budget.rows] == pytest.approx(row["u_um"], abs=5e-4)
    assert budget.u_mm * 1000 == pytest.approx(row["u"], abs=0.005)
    assert budget.nu_eff == pytest.approx(row["nu_eff"], abs=0.05)
    assert budget.k == pytest.approx(row["k"], abs=0.005)
    assert budget.U_mm * 1000 == pytest.approx(row["U"], abs=0.05)
    assert str(report(Decimal(0), budget.U_mm).U) == row["reported"]
    # The example's simulation draws every input from its own distribution; 5 % is where an interval of its own is due.
    assert budget.U_mm * 1000 == pytest.approx(row["simulated_U"], rel=0.05)
    assert 2 * views.test_value.u_mm * 1000 == pytest.approx(row["twice_test_value_u"], abs=0.005)
    assert len(views.test_value.rows) == 4


@pytest.mark.parametrize("length_mm", [25, 50, 150])
def test_test_value_shape_covers_what_a_simulation_finds(length_mm: int) -> None:
    """Two rectangles (block limit, temperature) dominate, so that k is the trapezoid's and below 2."""
    views = evaluate(CALIPER, on_a_block(length_mm, STEP_MM, limit_mm=GRADE_1_LIMIT_MM[length_mm]))
    budget = views.test_value
    assert budget.shape is Shape.TRAPEZOIDAL
    rng = np.random.default_rng(20)
    draws = np.zeros(400_000)
    for row in budget.rows:
        half_width = row.contribution_mm * math.sqrt(3)
        draws += rng.uniform(-half_width, half_width, draws.size)
    assert budget.U_mm == pytest.approx(np.quantile(np.abs(draws), budget.probability), rel=0.02)


def test_vernier_caliper_of_ea_4_02_s10() -> None:
    specs = (
        Constant(name="reference block", size_mm=0.0008),
        TemperatureDifference(name="temperature", half_width_k=2.0),
        Reading(name="resolution"),
        Geometry(name="contact, parallelism, Abbe", half_width_mm=0.05),
        Zero(name="zero"),
    )
    views = evaluate(specs, facts(length_mm=150, reading_half_width_mm=0.025), probability=0.95)
    error = error_of_indication(reading_mm=Decimal("150.10"), length_mm=Decimal(150), temperatures=None)
    assert len(views.calibration.rows) == 4  # no zero was set
    assert views.calibration.u_mm == pytest.approx(0.0323, abs=5e-5)
    assert views.calibration.k == pytest.approx(1.83, abs=0.005)
    assert views.calibration.U_mm == pytest.approx(0.0593, abs=5e-5)
    assert report(error, views.calibration.U_mm, digits=1).text == "(+0.10 ± 0.06) mm"
    assert views.test_value.u_mm == pytest.approx(0.00204, abs=5e-6)


class TestCaliperOfCommonPractice:
    """Seven points of a 6 in caliper under six agreements."""

    inputs = case("caliper-common-practice")["inputs"]
    half = to_mm(Decimal(inputs["limit_in"]), Unit.IN)
    limits = Limits(-half, half)
    closings = [Decimal(text) for text in inputs["closings_mm"]]

    def points(self, closings: list[Decimal] | None) -> list[tuple[Decimal, Views]]:
        step = to_mm(Decimal(self.inputs["step_in"]), Unit.IN)
        found = []
        for point in self.inputs["points"]:
            nominal = to_mm(Decimal(point["nominal_in"]), Unit.IN)
            limit = 0.0008 if nominal > 50 else 0.0004
            views = evaluate(CALIPER, on_a_block(nominal, step, limit_mm=limit, closings_mm=closings))
            reading = to_mm(Decimal(point["reading_in"]), Unit.IN)
            found.append(
                (error_of_indication(reading_mm=reading, length_mm=nominal, temperatures=None), views)
            )
        return found

    def verdicts(self, kind: RuleKind, view: View, closings: list[Decimal] | None = None) -> list[Verdict]:
        rule = Rule(kind, view)
        return [
            decide(error_mm=error, limits=self.limits, rule=rule, views=views).verdict
            for error, views in self.points(closings)
        ]

    def expected(self, quantity: str) -> float:
        return float(entry("caliper-common-practice", quantity)["printed"])

    def test_simple_acceptance_on_the_test_value(self) -> None:
        found = self.verdicts(RuleKind.SIMPLE, View.TEST_VALUE, self.closings)
        assert found.count(Verdict.IN_TOLERANCE) == self.expected(
            "simple acceptance, test value U: in tolerance"
        )

    def test_guard_of_the_test_value(self) -> None:
        found = self.verdicts(RuleKind.GUARDED, View.TEST_VALUE, self.closings)
        assert found.count(Verdict.IN_TOLERANCE) == self.expected("guard w = U, test value U: in tolerance")
        ring, step = found[4], found[6]
        assert (ring, step) == (Verdict.NOT_ACCEPTED, Verdict.NOT_ACCEPTED)

    def test_guard_of_the_calibration_without_type_a_is_close(self) -> None:
        found = self.verdicts(RuleKind.GUARDED, View.CALIBRATION)
        assert found.count(Verdict.IN_TOLERANCE) == self.expected(
            "guard w = U, calibration U without Type A: in tolerance"
        )
        assert (found[4], found[6]) == (Verdict.NOT_ACCEPTED, Verdict.NOT_ACCEPTED)
        rule = Rule(RuleKind.GUARDED, View.CALIBRATION)
        for error, views in self.points(None):
            decision = decide(error_mm=error, limits=self.limits, rule=rule, views=views)
            if decision.verdict is Verdict.IN_TOLERANCE:
                assert 0 < (decision.acceptance.upper or 0) - abs(error) < Decimal("0.001")

    def test_guard_of_the_calibration_with_ten_closings_accepts_nothing(self) -> None:
        s = repeatability(self.closings).s_mm
        assert float(s) * 1000 == pytest.approx(
            self.expected("s of the ten closings in inch steps"), abs=0.005
        )
        for _, views in self.points(self.closings):
            U_um = views.calibration.U_mm * 1000
            # The example says about 16.3 (k rounded to 2.12); unrounded it is 16.37 to 16.41.
            assert U_um == pytest.approx(self.expected("calibration U with ten closings"), abs=0.12)
        found = self.verdicts(RuleKind.GUARDED, View.CALIBRATION, self.closings)
        assert found == [Verdict.NOT_ACCEPTED] * 7

    @pytest.mark.parametrize("with_closings", [False, True])
    def test_simple_acceptance_on_the_calibration_is_refused(self, with_closings: bool) -> None:
        with pytest.raises(AccuracyRatioTooLow) as refusal:
            self.verdicts(RuleKind.SIMPLE, View.CALIBRATION, self.closings if with_closings else None)
        about = self.expected("simple acceptance, calibration U: accuracy ratio about")
        assert refusal.value.data["found"] == pytest.approx(about, abs=0.5)

    def test_binary_floats_would_lose_points(self) -> None:
        """The reason for whole picometres: the same subtraction in floats fails readings that lie on the limit."""
        lost = [
            point
            for point in self.inputs["points"]
            if abs(float(point["reading_in"]) * 25.4 - float(point["nominal_in"]) * 25.4) > 0.001 * 25.4
        ]
        assert len(lost) == 2


def test_a_study_without_spread_counts_as_half_a_step() -> None:
    # Design of the worked example: all repeats alike give u = 5.0 µm and U = 10 µm.
    inputs = on_a_block(50, STEP_MM, limit_mm=0.0004, closings_mm=[Decimal("0.01")] * 10)
    budget = evaluate(CALIPER, inputs).calibration
    assert budget.u_mm * 1000 == pytest.approx(5.0, abs=0.05)
    assert budget.U_mm * 1000 == pytest.approx(10.0, abs=0.1)
    assert math.isinf(budget.nu_eff)


def test_a_stack_from_one_certificate_adds_its_blocks_linearly() -> None:
    blocks = tuple(
        ReferenceUncertainty(certificate="C-7", label=f"{n} mm", nominal_mm=n, U_mm=U, k=2, nu=50)
        for n, U in ((100, 0.0006), (50, 0.0004))
    )
    stack = evaluate((StandardValue(name="blocks"),), facts(references=blocks)).test_value
    assert stack.u_mm == pytest.approx(0.0005)
    assert [row.component.name for row in stack.rows] == ["blocks, 100 mm", "blocks, 50 mm"]


def test_a_stack_at_grade_limits_with_one_joint() -> None:
    # Worked example: 150 mm as 100 + 50, grade 1 (0.60 and 0.40 µm), one joint of ±0.05 µm: u = 0.417 µm.
    from tests.labsys.metrology.calipers import grade_1_block

    inputs = facts(
        length_mm=150, joints=1, references=(grade_1_block(100, 0.0006), grade_1_block(50, 0.0004))
    )
    specs = (StandardValue(name="blocks"), Wringing(name="joint", half_width_mm=5e-5))
    assert evaluate(specs, inputs).test_value.u_mm * 1000 == pytest.approx(0.417, abs=5e-4)


@pytest.mark.parametrize("joints", [0, 1, 2, 4])
def test_joints_are_independent(joints: int) -> None:
    specs = (Constant(name="one", size_mm=1e-9), Wringing(name="joints", half_width_mm=5e-5))
    found = evaluate(specs, facts(joints=joints)).test_value.u_mm
    assert found == pytest.approx(5e-5 / math.sqrt(3) * math.sqrt(joints), rel=1e-3, abs=1e-9)


def test_lengths_and_offsets_scale() -> None:
    specs = (
        Proportional(name="scale", size_per_mm=1e-5, distribution=Distribution.NORMAL, nu=7),
        Abbe(name="tilt", offset_mm=40, tilt_half_width_rad=1e-4),
    )
    views = evaluate(specs, facts(length_mm=Decimal(-200)))
    contributions = [row.contribution_mm for row in views.calibration.rows]
    assert contributions == pytest.approx([0.002, 0.004 / math.sqrt(3)])
    assert [row.component.name for row in views.test_value.rows] == ["scale"]
    assert views.test_value.nu_used == 7


def test_away_from_20_degrees_the_coefficients_count_more() -> None:
    # Constructed: u(α) = 1e-6/√3 per K, 2 K off, 100 mm: 0.1155 µm; the thermometer adds its part.
    from labsys.metrology.specs import ExpansionDifference
    from tests.labsys.metrology.published import recomputed

    spec = ExpansionDifference(
        name="coefficient",
        half_width_per_k=1e-6,
        temperature_half_width_k=0.0,
        distribution=Distribution.RECTANGULAR,
    )
    budget = evaluate((spec,), facts(temperature_c=22)).test_value
    quantity = "constructed: u from u(alpha)=1e-6/sqrt3, t-20=2 K, L=100 mm"
    assert budget.u_mm * 1000 == pytest.approx(recomputed("thermal", quantity), rel=1e-9)
    assert budget.shape is Shape.NORMAL_OR_T  # a product is no rectangle


def test_a_kind_enters_the_views_it_is_told_to() -> None:
    reading = Reading(name="reading", views=frozenset(View))
    views = evaluate((reading,), facts())
    assert views.test_value.u_mm == views.calibration.u_mm
    with pytest.raises(NothingToCombine, match="test value uncertainty"):
        evaluate((Reading(name="reading"),), facts())


@pytest.mark.parametrize(
    "change",
    [
        {"length_mm": math.nan},
        {"reading_half_width_mm": Decimal("-0.1")},
        {"zero_half_width_mm": math.inf},
        {"alpha_mean_per_k": math.nan},
        {"references": (ReferenceUncertainty(certificate="C", label="x", nominal_mm=1, U_mm=0.1, k=0),)},
        {
            "references": (
                ReferenceUncertainty(
                    certificate="C", label="x", nominal_mm=1, U_mm=0.1, years_since_calibration=-1
                ),
            )
        },
    ],
)
def test_facts_that_cannot_be(change: dict[str, Any]) -> None:
    with pytest.raises(BadComponent):
        evaluate(CALIPER, facts(**change))


@pytest.mark.parametrize(("s", "nu"), [(math.nan, 9), (-1.0, 9), (0.001, 0), (0.001, math.nan)])
def test_a_study_that_cannot_be(s: float, nu: float) -> None:
    with pytest.raises(BadComponent):
        Repeatability(s, nu)


def test_closed_faces_are_an_exact_reference() -> None:
    """A vernier's zero is judged like any error; nothing but its own reading is uncertain."""
    inputs = facts(length_mm=Decimal(0), reading_half_width_mm=Decimal("0.025"))
    views = evaluate(CALIPER, inputs)
    assert (views.test_value.U_mm, views.test_value.u_mm) == (0, 0)
    assert views.calibration.U_mm == pytest.approx(0.0243, abs=5e-5)
    limits = Limits(Decimal("-0.05"), Decimal("0.05"))
    rule = Rule(RuleKind.SIMPLE, View.TEST_VALUE)
    on_limit = decide(error_mm=Decimal("0.05"), limits=limits, rule=rule, views=views)
    assert (on_limit.verdict, on_limit.conformance_probability) == (Verdict.IN_TOLERANCE, 1.0)
    assert on_limit.ratio == math.inf
    beyond = decide(error_mm=Decimal("-0.051"), limits=limits, rule=rule, views=views)
    assert (beyond.verdict, beyond.conformance_probability) == (Verdict.OUT_OF_TOLERANCE, 0.0)
    assert Views.from_json(views.to_json()) == views


def test_a_reference_without_uncertainty_is_still_refused() -> None:
    bare = ReferenceUncertainty(certificate="C", label="ring", nominal_mm=25)
    with pytest.raises(NoSpread):
        evaluate(CALIPER[:1], facts(references=(bare,)))
    with pytest.raises(NothingToCombine):
        evaluate(CALIPER[:1], facts())


def test_an_element_used_twice_counts_twice() -> None:
    twice = ReferenceUncertainty(certificate="C", label="a", nominal_mm=25, U_mm=0.0004, count=2)
    assert evaluate(CALIPER[:1], facts(references=(twice,))).test_value.u_mm == pytest.approx(0.0004)


def test_both_views_are_stored_and_read_back() -> None:
    import json

    views = evaluate(CALIPER, on_a_block(50, STEP_MM, limit_mm=0.0004, closings_mm=TENTHS))
    text = json.dumps(views.to_json(), sort_keys=True, allow_nan=False)
    assert Views.from_json(json.loads(text)) == views
