"""New uncertainties of standards in the budgets that rest on them; severity and products."""

from __future__ import annotations

import math
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st

from labsys.metrology.arrays import ComponentArrays, LimitArrays, UncertaintyArrays
from labsys.metrology.budget import Budget, combine
from labsys.metrology.components import Component, Distribution
from labsys.metrology.conformance import Spread
from labsys.metrology.limits import LimitMissing, Limits
from labsys.metrology.reevaluation import (
    NO_DAY,
    BadReevaluation,
    Change,
    ChangeArrays,
    ProductStatus,
    ResultArrays,
    StoredResult,
    Use,
    UseArrays,
    WrongComponent,
    product_impact,
    reevaluate,
    reevaluate_many,
    severity,
)
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import View
from tests.labsys.metrology.published import case

NORMAL = Distribution.NORMAL
EPOCH = date(2026, 1, 1)
TOL = Limits(Decimal("-0.004"), Decimal("0.004"))
GUARDED = Rule(RuleKind.GUARDED, View.CALIBRATION)
OOT = {one["id"]: one for one in case("oot-cases")["cases"]}


def stored(name: str, components: list[Component], *uses: Use, **more: Any) -> StoredResult:
    """Make a result as issued, with U from its budget."""
    budget = combine(components)
    usual: dict[str, Any] = {"value_mm": Decimal(0), "measured_on": EPOCH, "limits": TOL, "rule": GUARDED}
    return StoredResult(
        name=name,
        uses=uses,
        components=tuple(components),
        U_mm=budget.U_mm,
        spread=Spread.of(budget),
        **{**usual, **more},
    )


def change(u_mm: float | None, **more: Any) -> Change:
    usual: dict[str, Any] = {"source": "S", "used_mm": Decimal(0), "new_mm": Decimal(0), "found_on": EPOCH}
    return Change(**{**usual, "u_mm": u_mm, **more})


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from([-1, 1, -3]), st.floats(1e-5, 1e-3)), min_size=1, max_size=5),
    st.floats(1e-5, 1e-3),
    st.floats(1e-5, 1e-2),
)
def test_a_new_u_goes_down_the_chain_as_uncertainties_has_it(
    links: list[tuple[int, float]], old: float, new: float
) -> None:
    value = uncertainties.ufloat(0, old)
    changed = uncertainties.ufloat(0, new)
    results, source = [], "S"
    for number, (c, own) in enumerate(links):
        components = [
            Component("own", own, NORMAL),
            Component("standard", float(uncertainties.std_dev(value)), NORMAL, sensitivity=c),
        ]
        results.append(stored(f"{number}", components, Use(source, Decimal(c), component=1)))
        value, changed = (one * c + uncertainties.ufloat(0, own) for one in (value, changed))
        source = f"{number}"
    found = reevaluate(results[::-1], [change(new)]).results[0]
    # Normal parts only, so that k is the same for all.
    k = combine([Component("one", 1.0, NORMAL)]).k
    assert found.U_before_mm == pytest.approx(k * uncertainties.std_dev(value), rel=1e-12)
    assert found.U_mm == pytest.approx(k * uncertainties.std_dev(changed), rel=1e-12)


def budget_with(u: float, *, nu: float = math.inf, group: str | None = None) -> list[Component]:
    return [
        Component("step", 0.0005),
        Component("block", u, NORMAL, sensitivity=-1, nu=nu, group=group),
        Component("neighbour", 0.0002, NORMAL, sensitivity=-1, group=group),
        Component("repeats", 0.0001, NORMAL, nu=7),
    ]


@pytest.mark.parametrize("group", [None, "certificate 7"])
@pytest.mark.parametrize("nu", [math.inf, 4.0])
def test_a_replaced_component_keeps_its_sensitivity_and_group(group: str | None, nu: float) -> None:
    used = stored("e", budget_with(0.0001, group=group), Use("S", component=1))
    expected = combine(budget_with(0.0009, nu=nu, group=group))
    (found,) = reevaluate([used], [change(0.0009, nu=nu)]).results
    assert found.U_mm == pytest.approx(expected.U_mm, rel=1e-13)
    assert found.U_before_mm == combine(budget_with(0.0001, group=group)).U_mm


def test_a_rectangle_that_dominated_gives_way_to_what_is_normal() -> None:
    by_grade = [Component("grade", 0.001), Component("rest", 0.0001, NORMAL)]
    (found,) = reevaluate([stored("e", by_grade, Use("S", component=0))], [change(0.0005)]).results
    assert found.U_mm == pytest.approx(2 * math.hypot(0.0005, 0.0001), rel=1e-4)


def test_a_larger_u_alone_can_flip_a_verdict() -> None:
    used = stored("e", budget_with(0.0001), Use("S", component=1), value_mm=Decimal("0.003"))
    (found,) = reevaluate([used], [change(0.0009)]).results
    assert (found.before.verdict, found.worst.verdict) == (Verdict.IN_TOLERANCE, Verdict.NOT_ACCEPTED)
    assert found.flips and found.worst.shift_mm == 0
    (hopeless,) = reevaluate([used], [change(0.009)]).results
    assert (hopeless.worst.verdict, hopeless.worst.refusal) == (None, "empty-acceptance-zone")
    assert hopeless.flips


def test_a_new_u_counts_since_the_standard_was_last_good() -> None:
    for days, expected in ((-1, 0.0001), (0, 0.0009), (5, 0.0009)):
        used = stored("e", budget_with(0.0001), Use("S", component=1), measured_on=EPOCH + timedelta(days))
        (found,) = reevaluate([used], [change(0.0009, last_good_on=EPOCH)]).results
        assert found.U_mm == pytest.approx(combine(budget_with(expected)).U_mm, rel=1e-13)


def test_without_a_component_or_a_new_u_the_stored_one_stays() -> None:
    for use, new in ((Use("S"), 0.0009), (Use("S", component=1), None)):
        (found,) = reevaluate([stored("e", budget_with(0.0001), use)], [change(new)]).results
        assert found.U_mm == found.U_before_mm


def test_components_that_are_not_the_standards() -> None:
    in_um = [Component("block", 0.1, NORMAL, size_unit="µm", sensitivity=0.001)]
    with pytest.raises(WrongComponent, match="a size in mm"):
        reevaluate([stored("e", in_um, Use("S", component=0))], [change(0.0009)])
    twice = Use("S", component=1), Use("S", component=1)
    with pytest.raises(BadReevaluation, match="one component for each"):
        reevaluate([stored("e", budget_with(0.0001), *twice)], [change(0.0009)])


def tables(**more: Any) -> tuple[ResultArrays, UseArrays, ChangeArrays]:
    """Make two results on one standard."""
    results: dict[str, Any] = {
        "values_pm": np.array([3_600_000, 0]),
        "days": np.array([10, 20]),
        "limits": LimitArrays.of([TOL, TOL]),
        "uncertainty": UncertaintyArrays.normal(np.array([0.0009, 0.0009])),
        "rules": (GUARDED,),
        "rule_of": np.array([0, 0]),
    }
    uses: dict[str, Any] = {
        "results": np.array([0, 1]), "sources": np.array([0, 0]), "sensitivities": np.array([-1, -1])
    }  # fmt: skip
    changes: dict[str, Any] = {
        "deltas_pm": np.array([650_000]), "good_days": np.array([NO_DAY]), "found_days": np.array([30])
    }  # fmt: skip
    given_ = tuple(
        {**usual, **{k: v for k, v in more.items() if k in usual}} for usual in (results, uses, changes)
    )
    components = {"components": more["components"]} if "components" in more else {}
    columns = {"columns": more["columns"]} if "columns" in more else {}
    u_mm = {"u_mm": more["u_mm"]} if "u_mm" in more else {}
    return (
        ResultArrays(**given_[0], **components),
        UseArrays(**given_[1], **columns),
        ChangeArrays(**given_[2], **u_mm),
    )


def test_arrays_say_what_they_did() -> None:
    found = reevaluate_many(*tables())
    assert found.worst.values_pm.tolist() == [2_950_000, -650_000]
    assert found.flips.tolist() == [0]
    assert not found.has_new_U.any()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"days": np.array([1])}, "days"),
        ({"rule_of": np.array([0, 1])}, "rules"),
        ({"sources": np.array([0, 3])}, "sources"),
        ({"sources": np.array([0])}, "sources"),
        ({"results": np.array([0, 2])}, "results used"),
        ({"good_days": np.array([31])}, "last known good"),
        ({"found_days": np.array([31, 31])}, "found_days"),
        ({"components": ComponentArrays.of([[Component("one", 1.0)]])}, "components"),
        (
            {
                "components": ComponentArrays.of([[Component("one", 1.0)]] * 2),
                "columns": np.array([0, 1]),
                "u_mm": np.array([0.001]),
            },
            "components",
        ),
    ],
)
def test_arrays_that_do_not_belong_together(more: dict[str, Any], said: str) -> None:
    with pytest.raises(BadReevaluation, match=said):
        reevaluate_many(*tables(**more))


@pytest.mark.parametrize("name", ["OOT-1", "OOT-2", "OOT-3", "OOT-4"])
@pytest.mark.parametrize("sign", [1, -1])
def test_how_severe_the_worked_findings_are(name: str, sign: int) -> None:
    given_, expected = OOT[name]["inputs"], OOT[name]["expected"]
    limit = Decimal(given_["limit_um"]) / 1000
    error = sign * Decimal(given_["error_um"]) / 1000
    found = severity(error, Limits(-limit, limit), Spread(float(given_["U_um"]) / 2000))
    printed = [float(expected[key]) for key in ("ratio", "excess", "P_conform")]
    assert [found.ratio, float(found.excess_mm) * 1000, found.conformance_probability] == pytest.approx(
        printed, rel=1e-3
    )


def test_a_ratio_needs_a_limit_on_the_error_s_own_side() -> None:
    exact = Spread(0.0)
    above = Limits(Decimal("0.001"), Decimal("0.003"))
    assert severity(Decimal("-0.001"), above, exact).ratio is None
    assert severity(Decimal("-0.001"), above, exact).excess_mm == Decimal("0.002")
    assert severity(Decimal("-0.001"), Limits(None, Decimal("0.003")), exact).ratio is None
    assert severity(Decimal(0), Limits(Decimal(-1), Decimal(0)), exact).ratio is None
    assert severity(Decimal("-0.004"), Limits(Decimal("-0.002"), None), exact).ratio == 2
    with pytest.raises(LimitMissing):
        severity(Decimal(0), Limits(None, None), exact)


def test_the_worked_product() -> None:
    given_, expected = OOT["OOT-7"]["inputs"], OOT["OOT-7"]["expected"]
    limits = Limits(*(Decimal(one) for one in given_["product_limits_mm"]))
    error = Decimal(given_["gauge_error_found_um"]) / 1000
    found = product_impact(Decimal(given_["recorded_mm"]), error, limits)
    assert found.corrected_mm == Decimal(expected["corrected_mm"])
    assert found.status == expected["status"]
    assert found.margin_mm * 1000 == Decimal(expected["margin_um"])


@pytest.mark.parametrize(
    ("recorded", "error", "status"),
    [
        ("25.02", "0", ProductStatus.STILL_INSIDE),
        ("25.02", "-0.000000001", ProductStatus.NOW_OUTSIDE),
        ("25.021", "0.001", ProductStatus.NOW_INSIDE),
        ("25.021", "0.0009", ProductStatus.STILL_OUTSIDE),
    ],
)
def test_what_becomes_of_a_product(recorded: str, error: str, status: ProductStatus) -> None:
    limits = Limits(Decimal("24.98"), Decimal("25.02"))
    found = product_impact(Decimal(recorded), Decimal(error), limits)
    assert found.status is status
    assert (found.margin_mm < 0) == ("outside" in status)


def test_a_budget_stored_whole_serves_as_it_is() -> None:
    budget: Budget = combine(budget_with(0.0001))
    rows = [row.component for row in Budget.from_json(budget.to_json()).rows]
    (found,) = reevaluate([stored("e", rows, Use("S", component=1))], [change(0.0009)]).results
    assert found.U_mm == pytest.approx(combine(budget_with(0.0009)).U_mm, rel=1e-13)
