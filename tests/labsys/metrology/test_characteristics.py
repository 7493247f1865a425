"""Differences of several readings: which two they lie between, and what their uncertainty is.

Checked against: numpy (largest minus smallest), a simulation that draws every input once and reads the gauge twice.
"""

from __future__ import annotations

import itertools
import math
from decimal import Decimal as D
from typing import Any

import numpy as np
import pytest

from labsys.metrology.characteristics import (
    ORDERS,
    NothingToCompare,
    difference_views,
    rounds_of,
    widest,
    widest_apart,
    widest_within,
)
from labsys.metrology.evaluation import evaluate
from labsys.metrology.inputs import PointInputs, ReferenceUncertainty
from labsys.metrology.limits import Limits
from labsys.metrology.specs import (
    Constant,
    Drift,
    ExpansionDifference,
    Geometry,
    Proportional,
    Reading,
    StandardValue,
    TemperatureDifference,
    Wringing,
    Zero,
)
from labsys.metrology.views import View

ALPHA = 11.5e-6
SPECS = (
    StandardValue(name="standard"),
    Drift(name="drift", constant_mm_per_year=0.00002),
    Reading(name="reading"),
    Zero(name="zero"),
    Geometry(name="faces", half_width_mm=0.0004),
    TemperatureDifference(name="temperature", half_width_k=0.5),
    ExpansionDifference(name="expansion", half_width_per_k=1e-6, temperature_half_width_k=0.5),
    Proportional(name="screw", size_per_mm=2e-6),
    Constant(name="flat", size_mm=0.0001),
    Wringing(name="wringing", half_width_mm=0.00005),
)


def element(label: str, U_mm: float = 0.0006) -> ReferenceUncertainty:
    return ReferenceUncertainty(
        certificate="one", label=label, nominal_mm=10, U_mm=U_mm, years_since_calibration=2
    )


def at(length_mm: float, *labels: str, **more: Any) -> PointInputs:
    facts: dict[str, Any] = {
        "length_mm": length_mm,
        "reading_half_width_mm": 0.0005,
        "alpha_mean_per_k": ALPHA,
        "temperature_c": 20.4,
        "references": tuple(element(label) for label in labels),
        "joints": max(0, len(labels) - 1),
        "zero_half_width_mm": 0.0005,
    }
    return PointInputs(**{**facts, **more})


VALUES = [D("0.0012"), D("-0.0031"), D("0.0044"), D("0.0007"), D("-0.0009")]
LENGTHS = [D(2), D(5), D(5), D(20), D(40)]


def test_the_widest_is_largest_minus_smallest() -> None:
    found = widest(VALUES)
    assert float(found.difference_mm) == pytest.approx(np.ptp([float(value) for value in VALUES]), abs=1e-12)
    assert (found.high, found.low) == (2, 1)


def test_groups_are_compared_within_themselves() -> None:
    found = widest(VALUES, [(0, 3), (1, 4), (2,)])
    assert (found.difference_mm, found.high, found.low) == (D("0.0022"), 4, 1)


def test_a_section_holds_only_what_is_near_enough() -> None:
    near = widest_within(VALUES, LENGTHS, D(15))
    every = [
        abs(VALUES[a] - VALUES[b])
        for a, b in itertools.combinations(range(5), 2)
        if abs(LENGTHS[a] - LENGTHS[b]) <= 15
    ]
    assert near.difference_mm == max(every) == D("0.0075")
    assert widest_within(VALUES, LENGTHS, D(20)).difference_mm == D("0.0075")
    assert widest_within([D(1), D(0), D("0.4")], [D(0), D(10), D(20)], D(10)).difference_mm == D(1)


def test_hysteresis_compares_across_not_within() -> None:
    # Two readings going up that disagree among themselves are no hysteresis.
    found = widest_apart([D("0.000"), D("0.010"), D("0.004")], [((0, 1), (2,))])
    assert (found.difference_mm, found.high, found.low) == (D("0.006"), 1, 2)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: widest([D(1)]),
        lambda: widest([D(1), D(2)], [(0,), (1,)]),
        lambda: widest_within([D(1), D(2)], [D(0), D(10)], D(5)),
        lambda: widest_apart([D(1), D(2)], [((0, 1), ())]),
    ],
)
def test_nothing_to_compare_is_said(ask: Any) -> None:
    with pytest.raises(NothingToCompare):
        ask()


@pytest.mark.parametrize("order", ORDERS)
def test_a_steady_drift_falls_out_of_a_round(order: str) -> None:
    true, drift = D("0.00123"), D("0.00007")
    readings = [true * (letter == "G") + drift * n for n, letter in enumerate(order * 3)]
    found = rounds_of(readings, order)
    assert found is not None and found.mean_mm == true
    assert found.differences_mm == (true,) * 3 and found.s_mm == pytest.approx(0, abs=1e-9)


def test_rounds_give_the_mean_and_its_scatter() -> None:
    rng = np.random.default_rng(5)
    readings = [D(f"{value:.5f}") for value in rng.normal(0.002, 0.0003, 20)]
    found = rounds_of(readings, "RGGR")
    assert found is not None
    grid = np.array([float(value) for value in readings]).reshape(5, 4)
    each = grid[:, 1:3].mean(axis=1) - grid[:, [0, 3]].mean(axis=1)
    assert float(found.mean_mm) == pytest.approx(each.mean(), abs=1e-9)
    assert found.s_mm == pytest.approx(each.std(ddof=1), rel=1e-6)
    assert rounds_of(readings[:3], "RGGR") is None
    assert rounds_of(readings[:7], "RGGR") == rounds_of(readings[:4], "RGGR")


@pytest.mark.parametrize("order", ORDERS)
def test_in_every_order_both_have_the_same_mean_time(order: str) -> None:
    times = {letter: np.mean([n for n, found in enumerate(order) if found == letter]) for letter in "RG"}
    assert times["R"] == times["G"]


def drawn(high: PointInputs, low: PointInputs, rng: np.random.Generator, trials: int) -> Any:
    """Draw every input of both readings once and give the difference of the two errors (mm)."""

    def flat(half_width: float) -> Any:
        return rng.uniform(-half_width, half_width, trials)

    shared = {
        "zero": flat(0.0005),
        "kelvin": flat(0.5),
        "screw": flat(2e-6),
        "alpha": rng.triangular(-1e-6, 0, 1e-6, trials),
        "room": flat(0.5) + 0.4,
    }
    labels = {r.label for r in (*high.references, *low.references)}
    values = {label: rng.normal(0, 0.0003, trials) for label in sorted(labels)}
    drifts = {label: flat(0.00002 * 2) for label in sorted(labels)}

    def error(inputs: PointInputs) -> Any:
        length = inputs.length
        own = flat(0.0005) + flat(0.0004) + flat(0.0001) + sum(flat(0.00005) for _ in range(inputs.joints))
        of_elements = sum(-values[r.label] - drifts[r.label] for r in inputs.references)
        common = (
            shared["zero"]
            + length * ALPHA * shared["kelvin"]
            + length * shared["alpha"] * shared["room"]
            + length * shared["screw"]
        )
        return own + of_elements + common

    return error(high) - error(low)


@pytest.mark.parametrize(
    ("high", "low"),
    [
        (at(100, "a"), at(100, "a")),
        (at(150, "a"), at(25, "b")),
        (at(60, "a", "b"), at(50, "b")),
        (at(20, "a"), at(0, zero_half_width_mm=0.0005)),
    ],
    ids=["same element", "two lengths", "one element in both", "against the closed faces"],
)
def test_the_uncertainty_of_a_difference_agrees_with_a_simulation(
    high: PointInputs, low: PointInputs
) -> None:
    trials = 400_000
    simulated = drawn(high, low, np.random.default_rng(20261130), trials).std()
    # 100,000-fold repetition of u has a relative standard deviation of about 1/sqrt(2·trials).
    found = difference_views(SPECS, high, low).calibration.u_mm
    assert found == pytest.approx(simulated, rel=5 / math.sqrt(2 * trials) + 0.002)


def test_what_both_have_cancels_and_what_each_has_adds() -> None:
    same = difference_views(SPECS, at(100, "a"), at(100, "a")).calibration
    sizes = {row.component.name: row.contribution_mm for row in same.rows}
    assert sizes["standard"] == sizes["zero"] == sizes["temperature"] == sizes["drift"] == 0
    assert sizes["faces"] > 0
    own = [row.contribution_mm**2 for row in evaluate(SPECS, at(100, "a")).calibration.rows
           if row.component.name in ("reading", "faces", "flat", "wringing")]  # fmt: skip
    assert same.u_mm == pytest.approx(math.sqrt(2 * sum(own)))


def test_a_factor_scales_and_a_test_value_in_which_all_cancels_is_exact() -> None:
    whole = difference_views(SPECS, at(100, "a"), at(40, "b")).calibration
    half = difference_views(SPECS, at(100, "a"), at(40, "b"), factor=0.5).calibration
    assert half.U_mm == pytest.approx(whole.U_mm / 2)
    specs = (StandardValue(name="standard"), Reading(name="reading"))
    found = difference_views(specs, at(100, "a"), at(100, "a"))
    assert found.of(View.TEST_VALUE).U_mm == 0
    assert found.of(View.CALIBRATION).U_mm > 0


def test_a_floor_gives_a_limit_on_one_side_a_width_and_refuses_nothing() -> None:
    assert Limits(None, D("0.004")).width_mm is None
    bound = Limits(None, D("0.004"), floor=D(0))
    assert bound.width_mm == D("0.004")
    assert not bound.are_two_sided
    assert bound.margin(D("0.001")) == D("0.003")
    assert bound.margin(D(0)) == D("0.004")
