"""Decisions and risks as questions: the words of a verdict, what each way of asking needs, bounds that are bounds."""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from labsys.metrology.limits import LimitMissing, Limits
from labsys.metrology.questions.asking import QuestionRefused, answer_file
from labsys.metrology.questions.fields import QuestionUnreadable
from labsys.metrology.risk import BadRiskInput, rejection_limits
from labsys.metrology.rules import RuleKind
from tests.labsys.metrology.published import entry, recomputed


def values(**question: Any) -> dict[str, Any]:
    answered: Any = answer_file({"questions": [question]})
    found: dict[str, Any] = answered["answers"][0]["values"]
    return found


TEN_UM = {"lower": "-10 µm", "upper": "10 µm"}
ON_TOP = {"upper": 1}
DECISION = {"kind": "decision", "error": "9 µm", "limits": TEN_UM, "U": "2 µm"}
PARAMETERS: dict[RuleKind, dict[str, Any]] = {
    RuleKind.SIMPLE: {"min_ratio": 3},
    RuleKind.GUARDED: {"g": "0.83"},
    RuleKind.SPECIFIC_RISK: {"max_false_accept": "0.025"},
    RuleKind.PROVE: {},
    RuleKind.FOUR_WAY: {},
    RuleKind.PRESCRIBED: {"document": "ISO 13385-1:2019, clause 6"},
}


@pytest.mark.parametrize(
    ("kind", "verdict", "statement"),
    [
        (RuleKind.SIMPLE, "in tolerance", "pass"),
        (RuleKind.GUARDED, "not accepted", "fail"),
        (RuleKind.SPECIFIC_RISK, "not accepted", "fail"),
        (RuleKind.PROVE, "not decided", "neither"),
        (RuleKind.FOUR_WAY, "conditional inside", "conditional pass"),
        (RuleKind.PRESCRIBED, "in tolerance", "pass"),
    ],
)
def test_every_rule_of_an_agreement_can_be_asked(kind: RuleKind, verdict: str, statement: str) -> None:
    found = values(**DECISION, rule={"kind": kind.value, **PARAMETERS[kind]})
    assert (found["verdict"], found["statement"]) == (verdict, statement)
    assert float(found["margin"]) == pytest.approx(0.001)
    assert found["ratio"] == 5
    normal = stats.norm(9, 1)
    assert found["conformance_probability"] == pytest.approx(normal.cdf(10) - normal.cdf(-10), rel=1e-12)
    assert found["nonconformance_probability"] == pytest.approx(normal.sf(10) + normal.cdf(-10), rel=1e-12)


def test_the_rule_names_which_uncertainty_counts() -> None:
    rule = {"kind": "guarded", "view": "test_value"}
    found = values(**DECISION, U_test_value="0.5 µm", rule=rule)
    assert (found["verdict"], found["U_used"]) == ("in tolerance", 0.0005)
    assert "test value" in found["rule"]
    calibration = values(**DECISION, U_test_value="0.5 µm", rule={"kind": "guarded"})
    assert (calibration["verdict"], calibration["U_used"]) == ("not accepted", 0.002)


def test_few_degrees_of_freedom_and_another_factor_reach_the_probability() -> None:
    found = values(**{**DECISION, "limits": {"upper": "10 µm"}}, k=4, nu=3, rule={"kind": "prove"})
    assert found["nonconformance_probability"] == pytest.approx(stats.t(3).sf(1 / 0.5), rel=1e-12)
    assert found["ratio"] is None


def test_what_is_printed_never_decides_but_is_noted() -> None:
    # Trap 4: the error lies half a micrometre beyond the limit, and is printed as the limit itself.
    asked = {**DECISION, "error": "10.4 µm", "U": "20 µm", "rule": {"kind": "simple", "min_ratio": None}}
    found = values(**asked)
    assert found["verdict"] == "out of tolerance"
    assert "unrounded" in found["note"] and "in tolerance" in found["note"]
    assert values(**asked, reported="10.4 µm")["note"] == ""


@pytest.mark.parametrize(("k", "risk"), [("2", recomputed("ilac-g8", "w=U")), ("1.959963984540054", 0.025)])
def test_a_guard_of_u_leaves_a_risk_that_depends_on_k(k: str, risk: float) -> None:
    # Trap 8: 2.28 % with k = 2 and 2.50 % with k = 1.96, both under the bound of 2.5 % (within a float of it).
    u = 0.02 / float(k)
    found = values(kind="risk", ask="item", limits=ON_TOP, value="0.98", u=u, at_most="0.02500001")
    assert found["risk"] == pytest.approx(risk, rel=1e-9)
    assert found["holds"] is True and found["whose"] == "consumer"


def test_the_bound_at_a_guard_and_a_half_is_no_equality() -> None:
    # Trap 8: printed 0.16 %, exactly 0.135 %.
    bound = entry("ilac-g8", "w=1.5U (3 sigma)")["printed"]
    asked = {"kind": "risk", "ask": "item", "limits": ON_TOP, "value": "0.97", "u": "0.01"}
    found = values(**asked, at_most=bound)
    assert found["holds"] is True and found["risk"] == pytest.approx(stats.norm.sf(3), rel=1e-12)
    assert values(**asked, at_most="0.00134")["holds"] is False
    assert values(**asked)["holds"] is None


def test_a_reliability_has_to_say_whose_it_is() -> None:
    # Trap 7: without it 0.77 % and 0.86 % could both be meant.
    asked = {"kind": "risk", "ask": "ratio", "ratio": 4, "reliability": "0.95"}
    with pytest.raises(QuestionUnreadable, match="means"):
        values(**asked)
    observed, true = (values(**asked, means=means) for means in ("observed", "true"))
    assert [f"{one['consumer']:.4f}" for one in (observed, true)] == ["0.0077", "0.0086"]
    assert (observed["accepted"], true["conforming"]) == (pytest.approx(0.95), pytest.approx(0.95))


def test_a_ratio_compares_the_limits_with_twice_u() -> None:
    # Trap 7: ±10 µm and U = 2.5 µm are 4:1, by the decision and by the risks alike.
    found = values(**{**DECISION, "U": "2.5 µm"}, rule={"kind": "simple"})
    population = values(
        kind="risk", ask="population", limits=TEN_UM, u="1.25 µm", prior={"u": 0.01 / stats.norm.ppf(0.975)}
    )
    by_ratio = values(kind="risk", ask="ratio", ratio=found["ratio"], reliability="0.95", means="true")
    for name in ("consumer", "producer", "conforming", "accepted"):
        assert population[name] == pytest.approx(by_ratio[name], rel=1e-9)


def test_a_guard_asked_for_holds_and_costs() -> None:
    asked = {"kind": "risk", "ask": "population", "limits": TEN_UM, "u": "2 µm", "prior": {"u": "5 µm"}}
    plain, held = values(**asked), values(**asked, wanted="0.002", at_most="0.002")
    assert plain["consumer"] > 0.002 >= held["consumer"] and held["holds"] is True
    assert held["producer"] > plain["producer"]
    again = values(**asked, guard=held["guard"])
    assert again["acceptance"] == held["acceptance"] and again["consumer"] == held["consumer"]


def test_a_prior_is_weighted_in() -> None:
    found = values(
        kind="risk", ask="item", limits=TEN_UM, value="8 µm", u="3 µm", prior={"mean": 0, "u": "4 µm"}
    )
    assert found["value"] == pytest.approx(0.008 * 16 / 25)
    assert found["u"] == pytest.approx(0.0024)
    assert found["guard"] is None


def test_a_family_says_what_it_needs() -> None:
    asked = {"kind": "risk", "ask": "family", "limits": TEN_UM, "rule": {"kind": "guarded"}, "U": "2 µm"}
    few = values(**asked, errors=["1 µm"] * 3)
    assert (few["count"], few["needed"]) == (3, 20) and few["needs"]
    enough = values(**asked, errors=[f"{error} µm" for error in range(-7, 8)] * 2, at_most="0.5")
    assert enough["needs"] == "" and enough["holds"] is True
    assert enough["consumer_narrow"] < enough["consumer"] < enough["consumer_wide"]


@pytest.mark.parametrize("nu", [float("inf"), 4.0])
@pytest.mark.parametrize("is_relative", [False, True])
@pytest.mark.parametrize("limit", [100, -100])
def test_beyond_a_rejection_limit_an_item_hardly_conforms(nu: float, is_relative: bool, limit: int) -> None:
    share: dict[str, Any] = {"u_share": "0.02"} if is_relative else {"u": 2}
    asked = {"kind": "risk", "ask": "rejection", "wanted": "0.01", "nu": "infinite" if nu > 99 else nu}
    reject = values(**asked, **share, limits={"upper": limit, "lower": limit - 50})["reject"]
    oracle = stats.t(nu)
    for side, at in (("upper", limit), ("lower", limit - 50)):
        value = float(reject[side])
        u = abs(value) * 0.02 if is_relative else 2
        assert oracle.sf(abs(value - at) / u) == pytest.approx(0.01, rel=1e-6)
    assert float(reject["lower"]) < limit - 50 < limit < float(reject["upper"])


def test_what_makes_no_rejection_limit_is_refused() -> None:
    limits = Limits(None, None)
    with pytest.raises(LimitMissing):
        rejection_limits(limits, 1.0, conforming=0.01)
    for u, conforming in ((-1.0, 0.01), (float("nan"), 0.01), (1.0, 0.6), (1.0, 0.0)):
        with pytest.raises(BadRiskInput):
            rejection_limits(Limits(None, 1), u, conforming=conforming)  # type: ignore[arg-type]
    with pytest.raises(BadRiskInput, match="under 0.43"):
        rejection_limits(Limits(None, 1), 0.5, conforming=0.01, is_relative=True)  # type: ignore[arg-type]


ITEM = {"kind": "risk", "ask": "item", "limits": ON_TOP, "value": 0, "u": "0.1"}
RATIO = {"kind": "risk", "ask": "ratio", "means": "true", "ratio": 4, "reliability": "0.9"}
FAMILY = {"kind": "risk", "ask": "family", "limits": TEN_UM, "rule": {"kind": "prove"}, "errors": []}


@pytest.mark.parametrize(
    ("question", "said"),
    [
        ({**DECISION, "rule": {"kind": "guarded", "g": -1}}, "zero or more"),
        ({**DECISION, "rule": {"kind": "guarded", "g": 6}}, "Expected room for acceptance"),
        ({**DECISION, "rule": {"kind": "simple", "min_ratio": 10}}, "accuracy ratio of at least 10"),
        ({**DECISION, "rule": {"kind": "prescribed"}}, "document"),
        ({**DECISION, "limits": {}, "rule": {"kind": "prove"}}, "neither"),
        ({**DECISION, "limits": {"lower": 1, "upper": 0}, "rule": {"kind": "prove"}}, "below the upper one"),
        ({**DECISION, "U": 0, "rule": {"kind": "prove"}}, "above zero"),
        ({**ITEM, "prior": {"u": 0}}, "spread of the population"),
        ({**RATIO, "reliability": "1e-30"}, "reliability"),
        ({**RATIO, "means": "observed", "ratio": "0.1"}, "observed reliability below"),
        ({**RATIO, "ratio": "0.5", "guard": "root_sum"}, "ratio of 1 or more"),
    ],
)
def test_what_has_no_answer_is_refused_by_name(question: dict[str, Any], said: str) -> None:
    with pytest.raises(QuestionRefused) as refused:
        values(**question)
    assert refused.value.data["place"] == "file.questions[0]"
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("question", "place"),
    [
        ({**DECISION, "rule": {"kind": "guarded"}, "k": 0}, ".k"),
        ({**DECISION, "rule": {"kind": "guarded", "guard": 1}}, ".rule"),
        ({**DECISION, "rule": {"kind": "guarded"}, "limits": {"top": 1}}, ".limits"),
        ({**DECISION, "rule": {"kind": "guarded"}, "U_test_value": -1}, ".U_test_value"),
        ({**ITEM, "u": -1}, ".u"),
        ({**FAMILY, "U": -1}, ".U"),
        ({**ITEM, "wanted": 1}, ".wanted"),
        ({**ITEM, "ask": "batch"}, ".ask"),
        ({**ITEM, "prior": {"sd": 1}}, ".prior.u"),
        ({**RATIO, "worst": "over_k"}, ".worst"),
        ({**RATIO, "worst": "over_ratio", "guard": "managed"}, "[0]"),
        ({**RATIO, "guard": 5}, ".guard"),
    ],
)
def test_a_wrong_field_is_told_its_place(question: dict[str, Any], place: str) -> None:
    with pytest.raises(QuestionUnreadable) as refused:
        values(**question)
    assert refused.value.data["place"].endswith(place)


def test_a_guard_is_found_however_large_the_numbers_are() -> None:
    # In newtons or pascals a float's neighbours lie further apart than a hundredth of a picometre.
    found = values(**{**ITEM, "limits": {"upper": 10**9}, "u": 10**7}, wanted="0.05")
    assert found["guard"] == pytest.approx(stats.norm.ppf(0.95) * 1e7, rel=1e-12)
