"""Verdicts: published rules and figures, limits that are hit exactly, refusals by name."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.conformance import Spread, conformance_probability, nonconformance_probability
from labsys.metrology.coverage import NoSpread, Shape
from labsys.metrology.decision import (
    AccuracyRatioNotDefined,
    AccuracyRatioTooLow,
    BadRule,
    EmptyAcceptanceZone,
    LimitMissing,
    Limits,
    LimitsCrossed,
    NothingToRollUp,
    Rule,
    RuleKind,
    Verdict,
    acceptance_limits,
    accuracy_ratio,
    decide,
    roll_up,
    within_limits,
)
from labsys.metrology.units import Unit
from labsys.metrology.views import View
from tests.labsys.metrology.budgets import both_views
from tests.labsys.metrology.published import case, printed, recomputed

FOUR_UM = Limits(Decimal("-0.004"), Decimal("0.004"))
SIMPLE = Rule(RuleKind.SIMPLE, View.CALIBRATION)
GUARDED = Rule(RuleKind.GUARDED, View.CALIBRATION)
PROVE = Rule(RuleKind.PROVE, View.CALIBRATION)
FOUR_WAY = Rule(RuleKind.FOUR_WAY, View.CALIBRATION)
PRESCRIBED = Rule(RuleKind.PRESCRIBED, View.CALIBRATION, document="ISO 13385-1:2019, clause 6")
PUBLISHED_WORDS = {
    "simple": (SIMPLE, {"pass": Verdict.IN_TOLERANCE, "fail": Verdict.OUT_OF_TOLERANCE}),
    "guard_w_U": (GUARDED, {"pass": Verdict.IN_TOLERANCE}),
    "non_binary": (
        FOUR_WAY,
        {
            "pass": Verdict.IN_TOLERANCE,
            "conditional pass": Verdict.CONDITIONAL_INSIDE,
            "conditional fail": Verdict.CONDITIONAL_OUTSIDE,
            "fail": Verdict.OUT_OF_TOLERANCE,
        },
    ),
    "prove_conformance": (
        PROVE,
        {"pass": Verdict.IN_TOLERANCE, "neither": Verdict.NOT_DECIDED, "fail": Verdict.OUT_OF_TOLERANCE},
    ),
}


@pytest.mark.parametrize("rule_name", PUBLISHED_WORDS)
@pytest.mark.parametrize("row", case("dec-1")["expected"], ids=lambda row: f"{row['error']} um")
@pytest.mark.parametrize("sign", [-1, 1])
def test_rules_of_ilac_g8_and_iso_14253(row: dict[str, str], rule_name: str, sign: int) -> None:
    rule, words = PUBLISHED_WORDS[rule_name]
    error = sign * Decimal(str(row["error"])) / 1000
    found = decide(error_mm=error, limits=FOUR_UM, rule=rule, views=both_views(0.0008)).verdict
    if rule is GUARDED and row[rule_name] == "fail":
        # The published table knows one word; ours says whether the limit itself was passed.
        assert found is (Verdict.NOT_ACCEPTED if within_limits(error, FOUR_UM) else Verdict.OUT_OF_TOLERANCE)
    else:
        assert found is words[row[rule_name]]


def test_n_to_one_rule_of_b89_7_3_1() -> None:
    limits = Limits(Decimal("-0.010"), Decimal("0.010"))
    assert accuracy_ratio(limits, 0.0025) == recomputed("b89-7-3-1", "ratio = (T_U-T_L)/(2U)")
    assert acceptance_limits(limits, SIMPLE, 0.0025, 0.00125) == limits
    stringent = acceptance_limits(limits, GUARDED, 0.0025, 0.00125)
    quantity = "stringent acceptance, 100 % guard band: upper acceptance limit"
    assert float(stringent.upper or 0) == recomputed("b89-7-3-1", quantity)
    # Accepting up to T + U is relaxed acceptance; the proving rule calls out of tolerance only beyond it.
    relaxed = decide(error_mm=Decimal(0), limits=limits, rule=PROVE, views=both_views(0.0025)).outer
    quantity = "relaxed acceptance, 100 % guard band: upper acceptance limit"
    assert float(relaxed.upper or 0) == recomputed("b89-7-3-1", quantity)
    with pytest.raises(AccuracyRatioTooLow) as refusal:
        acceptance_limits(limits, SIMPLE, 0.002500001, 0.00125)
    assert refusal.value.data["expected"] == 4
    easier = Rule(RuleKind.SIMPLE, View.CALIBRATION, min_ratio=Decimal(3))
    assert acceptance_limits(limits, easier, 0.0033, 0.00165) == limits


@pytest.mark.parametrize(
    ("guard", "quantity"), [(3, "w=3U (6 sigma)"), (1.5, "w=1.5U (3 sigma)"), (1, "w=U"), (0.83, "w=0.83U")]
)
def test_largest_false_accept_risk_of_ilac_g8(guard: float, quantity: str) -> None:
    limits = Limits(None, Decimal(1))
    rule = Rule(RuleKind.GUARDED, View.CALIBRATION, g=Decimal(str(guard)))
    zone = acceptance_limits(limits, rule, 0.02, 0.01)
    assert zone.upper is not None
    risk = nonconformance_probability(zone.upper, limits, Spread(0.01))
    assert risk == pytest.approx(recomputed("ilac-g8", quantity), rel=1e-12)
    assert risk < printed("ilac-g8", quantity)


def test_simple_acceptance_risks_one_half_at_the_limit() -> None:
    probability = conformance_probability(Decimal(1), Limits(None, Decimal(1)), Spread(0.01))
    assert 1 - probability == printed("ilac-g8", "w=0 (simple acceptance)")


@pytest.mark.parametrize(
    ("quantity", "value", "limits", "u"),
    [
        ("p_c upper", "-5.47", Limits(None, Decimal("-5.40")), 0.05),
        ("p_c two-sided", "13.6", Limits(Decimal("12.5"), Decimal("16.3")), 1.8),
        ("p_c lower with 507 kPa", "507", Limits(Decimal(490), None), 8.0),
    ],
)
def test_conformance_probability_of_jcgm_106(quantity: str, value: str, limits: Limits, u: float) -> None:
    found = conformance_probability(Decimal(value), limits, Spread(u))
    assert found == pytest.approx(recomputed("jcgm106-specific", quantity), abs=1e-12)
    assert found == pytest.approx(printed("jcgm106-specific", quantity), abs=0.005)


@pytest.mark.parametrize("level", ["0.80", "0.90", "0.95", "0.99"])
def test_guard_for_a_wanted_risk_is_the_normal_quantile(level: str) -> None:
    rule = Rule(RuleKind.SPECIFIC_RISK, View.CALIBRATION, max_false_accept=1 - Decimal(level))
    zone = acceptance_limits(Limits(None, Decimal(10)), rule, 2.0, 1.0)
    z = recomputed("jcgm106-specific", f"z for p_c {level}")
    assert 10 - float(zone.upper or 0) == pytest.approx(z, abs=1e-8)


@given(st.floats(0.2, 3), st.sampled_from([0.01, 0.023, 0.05, 0.2]))
def test_guard_for_a_risk_counts_both_limits(u: float, risk: float) -> None:
    limits = Limits(Decimal(-5), Decimal(5))
    rule = Rule(RuleKind.SPECIFIC_RISK, View.CALIBRATION, max_false_accept=Decimal(str(risk)))
    least = 2 * NormalDist().cdf(-5 / u)
    if least > risk:
        with pytest.raises(EmptyAcceptanceZone):
            acceptance_limits(limits, rule, 2 * u, u)
        return
    zone = acceptance_limits(limits, rule, 2 * u, u)
    assert zone.upper is not None and zone.lower == -zone.upper
    assert 1 - conformance_probability(zone.upper, limits, Spread(u)) == pytest.approx(risk, abs=1e-6)


@pytest.mark.parametrize("shape", [Shape.RECTANGULAR, Shape.TRAPEZOIDAL])
def test_shapes_have_unit_area_and_their_own_variance(shape: Shape) -> None:
    import numpy as np

    spread = Spread(2.0, shape, beta=0.4)
    edges = np.linspace(-10, 10, 200_001)
    density = np.diff([spread.below(edge) for edge in edges])
    middles = (edges[1:] + edges[:-1]) / 2
    assert density.min() >= 0
    assert density.sum() == pytest.approx(1)
    assert (density * middles**2).sum() == pytest.approx(4.0, rel=1e-6)


def test_trapezoid_is_the_sum_of_two_rectangles() -> None:
    # Its two-sided quantile has the published closed form (EA-4/02, S10).
    from labsys.metrology.coverage import trapezoidal_factor

    for beta in (0.0, 1 / 3, 0.5):
        spread = Spread(1.0, Shape.TRAPEZOIDAL, beta=beta)
        assert spread.below(trapezoidal_factor(0.95, beta)) == pytest.approx(0.975, abs=1e-12)


def test_few_degrees_of_freedom_widen_the_tails() -> None:
    from scipy import stats

    limits = Limits(Decimal("-0.004"), Decimal("0.004"))
    found = conformance_probability(Decimal("0.003"), limits, Spread(0.001, nu=5))
    assert found == pytest.approx(stats.t.cdf(1, 5) - stats.t.cdf(-7, 5), abs=1e-12)
    assert found < conformance_probability(Decimal("0.003"), limits, Spread(0.001))


@given(st.integers(-(10**9), 10**9), st.integers(1, 10**9))
def test_a_value_on_a_limit_is_inside_and_a_picometre_beyond_is_not(error_pm: int, width_pm: int) -> None:
    error = Decimal(error_pm).scaleb(-9)
    beyond = Decimal(error_pm + 1).scaleb(-9)
    limits = Limits(error - Decimal(width_pm).scaleb(-9), error)
    rule = Rule(RuleKind.SIMPLE, View.TEST_VALUE, min_ratio=None)
    views = both_views(1e-9)
    assert decide(error_mm=error, limits=limits, rule=rule, views=views).verdict is Verdict.IN_TOLERANCE
    assert decide(error_mm=beyond, limits=limits, rule=rule, views=views).verdict is Verdict.OUT_OF_TOLERANCE


@given(st.integers(2, 120), st.sampled_from([-1, 1]), st.sampled_from(["0.001", "0.0005"]))
def test_every_inch_reading_exactly_on_a_limit_is_in(tenths: int, sign: int, limit_in: str) -> None:
    from labsys.metrology.error import error_of_indication
    from labsys.metrology.units import Unit, to_mm

    nominal_in = Decimal(tenths) / 10
    half = to_mm(Decimal(limit_in), Unit.IN)
    error = error_of_indication(
        reading_mm=to_mm(nominal_in + sign * Decimal(limit_in), Unit.IN),
        length_mm=to_mm(nominal_in, Unit.IN),
        temperatures=None,
    )
    found = decide(error_mm=error, limits=Limits(-half, half), rule=SIMPLE, views=both_views(0.001))
    assert (found.verdict, found.margin_mm) == (Verdict.IN_TOLERANCE, Decimal(0))


def test_the_rule_names_the_uncertainty() -> None:
    views = both_views(0.016, test_value_U_mm=0.001)
    limits = Limits(Decimal("-0.02"), Decimal("0.02"))
    by_test_value = decide(
        error_mm=Decimal("0.019"), limits=limits, rule=Rule(RuleKind.GUARDED, View.TEST_VALUE), views=views
    )
    assert (by_test_value.verdict, by_test_value.U_used_mm) == (Verdict.IN_TOLERANCE, 0.001)
    assert by_test_value.view is View.TEST_VALUE
    assert by_test_value.acceptance == Limits(Decimal("-0.019"), Decimal("0.019"))
    assert by_test_value.margin_mm == Decimal("0.001")
    assert by_test_value.ratio == pytest.approx(20)
    assert 0.95 < by_test_value.conformance_probability < 1
    by_calibration = decide(error_mm=Decimal("0.019"), limits=limits, rule=GUARDED, views=views)
    assert by_calibration.verdict is Verdict.NOT_ACCEPTED


@pytest.mark.parametrize(
    ("rule", "outer"),
    [
        (GUARDED, Limits(Decimal("-0.004"), Decimal("0.004"))),
        (PROVE, Limits(Decimal("-0.005"), Decimal("0.005"))),
        (FOUR_WAY, Limits(Decimal("-0.005"), Decimal("0.005"))),
    ],
    ids=lambda value: value.words if isinstance(value, Rule) else "",
)
def test_out_of_tolerance_begins_where_the_rule_says(rule: Rule, outer: Limits) -> None:
    views = both_views(0.001)
    found = decide(error_mm=Decimal(0), limits=FOUR_UM, rule=rule, views=views)
    assert found.outer == outer
    assert outer.upper is not None
    for error_mm, is_out in ((outer.upper, False), (outer.upper + Decimal("0.000000001"), True)):
        verdict = decide(error_mm=error_mm, limits=FOUR_UM, rule=rule, views=views).verdict
        assert (verdict is Verdict.OUT_OF_TOLERANCE) is is_out


@pytest.mark.parametrize("U_mm", [0.0001, 0.004, 1.0])
def test_a_prescribed_rule_takes_the_specifications_limits_whatever_u_is(U_mm: float) -> None:
    views = both_views(U_mm)
    for error, verdict in (("0.004", Verdict.IN_TOLERANCE), ("-0.004000001", Verdict.OUT_OF_TOLERANCE)):
        found = decide(error_mm=Decimal(error), limits=FOUR_UM, rule=PRESCRIBED, views=views)
        assert (found.verdict, found.acceptance, found.outer) == (verdict, FOUR_UM, FOUR_UM)
        assert found.U_used_mm == U_mm
    one_sided = Limits(None, Decimal("0.004"))
    assert acceptance_limits(one_sided, PRESCRIBED, U_mm, U_mm / 2) == one_sided


def test_rounding_that_seems_to_contradict_is_noted() -> None:
    limits = Limits(Decimal("-0.02"), Decimal("0.02"))
    rule = Rule(RuleKind.SIMPLE, View.CALIBRATION, min_ratio=None)
    out = decide(error_mm=Decimal("0.02004"), limits=limits, rule=rule, views=both_views(0.012))
    assert out.verdict is Verdict.OUT_OF_TOLERANCE
    assert "+0.020040000 mm: out of tolerance" in out.note
    assert "+0.020 mm alone would read in tolerance" in out.note
    assert decide(error_mm=Decimal("0.015"), limits=limits, rule=rule, views=both_views(0.012)).note == ""
    as_printed = decide(
        error_mm=Decimal("0.0196"),
        limits=limits,
        rule=rule,
        views=both_views(0.012),
        reported_error_mm=Decimal("0.03"),
    )
    assert "+0.03 mm alone would read out of tolerance" in as_printed.note


def test_one_sided_limits() -> None:
    flat = Limits(None, Decimal("0.001"))
    assert accuracy_ratio(flat, 0.0001) is None
    with pytest.raises(AccuracyRatioNotDefined):
        acceptance_limits(flat, SIMPLE, 0.0001, 0.00005)
    agreed = Rule(RuleKind.SIMPLE, View.CALIBRATION, min_ratio=None)
    assert acceptance_limits(flat, agreed, 0.0001, 0.00005) == flat
    guarded = decide(error_mm=Decimal("0.00095"), limits=flat, rule=GUARDED, views=both_views(0.0001))
    assert (guarded.verdict, guarded.ratio) == (Verdict.NOT_ACCEPTED, None)
    assert guarded.acceptance == Limits(None, Decimal("0.0009"))


@pytest.mark.parametrize("rule", [GUARDED, PROVE, FOUR_WAY])
def test_a_guard_that_leaves_nothing_is_refused_by_name(rule: Rule) -> None:
    assert acceptance_limits(FOUR_UM, rule, 0.004, 0.002) == Limits(Decimal(0), Decimal(0))
    with pytest.raises(EmptyAcceptanceZone):
        acceptance_limits(FOUR_UM, rule, 0.0041, 0.00205)


def test_limits_that_make_no_verdict() -> None:
    with pytest.raises(LimitMissing):
        decide(error_mm=Decimal(0), limits=Limits(None, None), rule=SIMPLE, views=both_views(0.001))
    with pytest.raises(LimitMissing):
        within_limits(Decimal(0), Limits(None, None))
    with pytest.raises(LimitMissing):
        conformance_probability(Decimal(0), Limits(None, None), Spread(1.0))
    with pytest.raises(LimitsCrossed):
        Limits(Decimal("0.001"), Decimal("-0.001"))


def test_an_exact_value_conforms_or_not() -> None:
    for error, probability in (("0.004", 1.0), ("-0.004", 1.0), ("0.0041", 0.0), ("-0.0041", 0.0)):
        assert conformance_probability(Decimal(error), FOUR_UM, Spread(0.0)) == probability
    by_risk = Rule(RuleKind.SPECIFIC_RISK, View.TEST_VALUE, max_false_accept=Decimal("0.05"))
    assert acceptance_limits(FOUR_UM, by_risk, 0.0, 0.0) == FOUR_UM


@pytest.mark.parametrize("u", [-1.0, math.nan, math.inf])
def test_what_is_no_spread_is_refused(u: float) -> None:
    with pytest.raises(NoSpread):
        Spread(u)


def test_the_most_severe_verdict_rolls_up() -> None:
    order = [
        Verdict.IN_TOLERANCE,
        Verdict.CONDITIONAL_INSIDE,
        Verdict.NOT_DECIDED,
        Verdict.NOT_ACCEPTED,
        Verdict.CONDITIONAL_OUTSIDE,
        Verdict.OUT_OF_TOLERANCE,
    ]
    for place, verdict in enumerate(order):
        assert roll_up(reversed(order[: place + 1])) is verdict
    assert [verdict.words for verdict in order[:3]] == ["in tolerance", "conditional inside", "not decided"]
    with pytest.raises(NothingToRollUp):
        roll_up([])


RULES = [
    SIMPLE,
    Rule(RuleKind.SIMPLE, View.TEST_VALUE, min_ratio=None),
    Rule(RuleKind.GUARDED, View.TEST_VALUE, g=Decimal("0.83")),
    Rule(RuleKind.SPECIFIC_RISK, View.CALIBRATION, max_false_accept=Decimal("0.05")),
    PROVE,
    FOUR_WAY,
    PRESCRIBED,
]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.words)
def test_a_rule_is_stored_and_read_back(rule: Rule) -> None:
    assert Rule.from_json(json.loads(json.dumps(rule.to_json()))) == rule


def test_a_rule_says_itself() -> None:
    assert SIMPLE.words == "simple acceptance, accuracy ratio at least 4 (calibration uncertainty)"
    assert RULES[2].words == "guarded acceptance, guard w = 0.83 · U (test value uncertainty)"
    assert "at most 0.05" in RULES[3].words
    assert "as ISO 13385-1:2019, clause 6 prescribes" in PRESCRIBED.words
    assert "U is reported, not used" in PRESCRIBED.words


@pytest.mark.parametrize(
    ("stored", "place"),
    [
        ({}, "kind"),
        ({"kind": "lenient", "view": "calibration"}, "kind"),
        ({"kind": "guarded"}, "view"),
        ({"kind": "guarded", "view": "calibration", "min_ratio": "4"}, "min_ratio"),
        ({"kind": "guarded", "view": "calibration", "g": "wide"}, "g"),
        ({"kind": "guarded", "view": "calibration", "g": "-1"}, "g"),
        ({"kind": "guarded", "view": "calibration", "g": "NaN"}, "g"),
        ({"kind": "guarded", "view": "calibration", "g": None}, "g"),
        ({"kind": "simple", "view": "calibration", "min_ratio": "-4"}, "min_ratio"),
        ({"kind": "specific_risk", "view": "calibration"}, "max_false_accept"),
        ({"kind": "prescribed", "view": "calibration"}, "document"),
        ({"kind": "prescribed", "view": "calibration", "document": " "}, "document"),
        ({"kind": "prescribed", "view": "calibration", "document": None}, "document"),
        ({"kind": "prescribed", "view": "calibration", "document": "ISO 13385-1", "g": "1"}, "g"),
        ({"kind": "specific_risk", "view": "calibration", "max_false_accept": "0.6"}, "max_false_accept"),
    ],
)
def test_a_bad_rule_names_the_place(stored: dict[str, str | None], place: str) -> None:
    with pytest.raises(BadRule) as refusal:
        Rule.from_json(stored)
    assert refusal.value.data["place"] == place


def test_limits_of_an_angle_are_spoken_of_in_arc_seconds() -> None:
    five_minutes = Limits(Decimal(-300), Decimal(300), unit=Unit.ARCSEC)
    with pytest.raises(AccuracyRatioTooLow, match="U = 100.000000″"):
        acceptance_limits(five_minutes, SIMPLE, 100.0, 50.0)
    with pytest.raises(EmptyAcceptanceZone, match="between -300″ and 300″, found none with U = 301.000000″"):
        acceptance_limits(five_minutes, GUARDED, 301.0, 150.5)
    assert acceptance_limits(five_minutes, GUARDED, 60.0, 30.0).unit is Unit.ARCSEC
    with pytest.raises(LimitsCrossed, match="300″ and -300″"):
        Limits(Decimal(300), Decimal(-300), unit=Unit.ARCSEC)
    found = decide(
        error_mm=Decimal("300.4"), limits=five_minutes, rule=SIMPLE, views=both_views(30.0),
        reported_error_mm=Decimal(300),
    )  # fmt: skip
    assert found.note == (
        f"Judged on the unrounded error +300.400000000″: {Verdict.OUT_OF_TOLERANCE.words}. "
        f"The rounded value +300″ alone would read {Verdict.IN_TOLERANCE.words}."
    )
