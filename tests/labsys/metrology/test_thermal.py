"""Corrections for temperature, their uncertainty by simulation, wrong sensors by working the error out again."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.budget import combine
from labsys.metrology.components import BadComponent
from labsys.metrology.error import Temperatures, error_of_indication
from labsys.metrology.exact import NotANumber
from labsys.metrology.expansion import EXPANSIONS, Material
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs.temperature import ExpansionDifference
from labsys.metrology.stability import BlockGrade, NoBlockLength, permitted_change_um
from labsys.metrology.thermal import (
    SensorErrors,
    ThermalDoubt,
    sensor_change,
    sensor_changes,
    thermal_correction,
    true_temperatures,
)
from tests.labsys.metrology.published import case, entry, printed, recomputed

STEEL, ALUMINIUM = EXPANSIONS[Material.STEEL].per_k, EXPANSIONS[Material.ALUMINIUM].per_k
CALM = Temperatures(Decimal(20), Decimal(20), STEEL, STEEL)
WARM = Temperatures(Decimal("21.5"), Decimal("21.2"), ALUMINIUM, STEEL)
SURE = ThermalDoubt(0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize("material", [Material.STEEL, Material.ALUMINIUM, Material.SILICON])
def test_coefficients_are_the_published_ones(material: Material) -> None:
    assert float(EXPANSIONS[material].per_k * 10**6) == printed("thermal", f"alpha {material.value}")


def test_coefficients_from_memory_lie_where_they_are_remembered() -> None:
    assert set(EXPANSIONS) == set(Material)
    for name, material in (
        ("tungsten carbide", Material.TUNGSTEN_CARBIDE),
        ("zirconia ceramic", Material.ZIRCONIA),
    ):
        low, high = entry("thermal", f"alpha {name}")["printed"].split(" to ")
        assert float(low) <= float(EXPANSIONS[material].per_k * 10**6) <= float(high)
    for name, material in (
        ("chromium carbide", Material.CHROMIUM_CARBIDE),
        ("fused silica", Material.SILICA),
    ):
        assert float(EXPANSIONS[material].per_k * 10**6) == printed("thermal", f"alpha {name}")
    for one in EXPANSIONS.values():
        assert 0 < one.half_width_per_k < one.per_k and one.source


def test_an_aluminium_part_on_a_steel_standard() -> None:
    quantity = "constructed: steel standard and aluminium part, 100 mm, both at 22 degC, apparent difference"
    both_warm = Temperatures(Decimal(22), Decimal(22), ALUMINIUM, STEEL)
    found = thermal_correction(Decimal(100), both_warm, SURE)
    assert float(found.correction_mm) * 1000 == pytest.approx(recomputed("thermal", quantity), rel=1e-12)
    assert found.u_mm == 0


@pytest.mark.parametrize(
    ("doubt", "at_c", "quantity"),
    [
        (
            ThermalDoubt(0, 0, 1e-6 / math.sqrt(3), 0), "22",
            "constructed: u from u(alpha)=1e-6/sqrt3, t-20=2 K, L=100 mm",
        ),
        (ThermalDoubt(0, 0.1, 0, 0), "20", "constructed: u from u(t)=0.1 K, alpha=11.5e-6, L=100 mm"),
    ],
)  # fmt: skip
def test_single_uncertainties(doubt: ThermalDoubt, at_c: str, quantity: str) -> None:
    there = Temperatures(Decimal(at_c), Decimal(at_c), STEEL, STEEL)
    found = thermal_correction(Decimal(100), there, doubt)
    assert found.u_mm * 1000 == pytest.approx(recomputed("thermal", quantity), rel=1e-12)


@pytest.mark.parametrize("shown", [CALM, WARM], ids=["at 20 °C", "warm and unlike"])
def test_the_uncertainty_agrees_with_a_simulation(shown: Temperatures) -> None:
    # Products of zero-mean inputs included: at 20 °C the coefficients' sensitivities are zero (trap 2).
    doubt = ThermalDoubt(0.3, 0.05, 1e-6, 0.6e-6)
    found = thermal_correction(Decimal(150), shown, doubt)
    rng = np.random.default_rng(5)
    n = 2_000_000
    standard = float(shown.standard_c) - 20 + rng.normal(0, doubt.standard_k, n)
    gauge = standard + float(shown.instrument_c - shown.standard_c) + rng.normal(0, doubt.difference_k, n)
    alpha_i = float(shown.alpha_instrument_per_k) + rng.normal(0, doubt.alpha_instrument_per_k, n)
    alpha_s = float(shown.alpha_standard_per_k) + rng.normal(0, doubt.alpha_standard_per_k, n)
    drawn = 150 * (alpha_i * gauge - alpha_s * standard)
    assert found.u_mm == pytest.approx(float(drawn.std()), rel=0.004)
    assert float(found.correction_mm) == pytest.approx(float(drawn.mean()), abs=4 * found.u_mm / math.sqrt(n))


def test_the_components_make_a_budget() -> None:
    found = thermal_correction(Decimal(150), WARM, ThermalDoubt(0.3, 0.05, 1e-6, 0.6e-6))
    assert combine(found.components).u_mm == pytest.approx(found.u_mm, rel=1e-12)


def test_the_components_are_those_of_the_procedures_own_budget() -> None:
    spec = ExpansionDifference(
        name="expansion", source="", half_width_per_k=2e-6, temperature_half_width_k=0.5
    )
    inputs = PointInputs(
        length_mm=150, reading_half_width_mm=0.005, alpha_mean_per_k=STEEL, temperature_c=Decimal("21.2")
    )
    (carried,) = spec.components(inputs)
    alike = ThermalDoubt(0.5 / math.sqrt(3), 0.0, 1e-6 / math.sqrt(3), 1e-6 / math.sqrt(3))
    both = Temperatures(Decimal("21.2"), Decimal("21.2"), STEEL, STEEL)
    # ± the sum of two rectangles is the triangle that the procedure takes.
    assert thermal_correction(Decimal(150), both, alike).u_mm == pytest.approx(
        carried.contribution_mm, rel=1e-12
    )


kelvins = st.decimals("-3", "3", places=3)
lengths = st.decimals("0", "1000", places=4)


@given(lengths, kelvins, kelvins, kelvins, kelvins)
def test_wrong_sensors_change_what_the_error_worked_out_again_differs_by(
    length: Decimal, t_i: Decimal, t_s: Decimal, off_i: Decimal, off_s: Decimal
) -> None:
    shown, off = Temperatures(20 + t_i, 20 + t_s, ALUMINIUM, STEEL), SensorErrors(off_i, off_s)
    before, after = (
        error_of_indication(reading_mm=length, length_mm=length, temperatures=taken)
        for taken in (shown, true_temperatures(shown, off))
    )
    found = sensor_change(length, shown, off, is_corrected=True)
    assert abs(found.change_mm - (after - before)) <= Decimal("1e-9")
    by_hand = -float(length) * (23.1e-6 * float(off_i) - 11.5e-6 * float(off_s))
    assert float(found.change_mm) == pytest.approx(by_hand, abs=1.1e-9)
    many = sensor_changes(
        np.array([[float(length)] * 2]), off,
        alpha_instrument_per_k=np.array([[23.1e-6, 11.5e-6]]), alpha_standard_per_k=11.5e-6,
    )  # fmt: skip
    assert many.shape == (1, 2)
    assert many[0, 0] == pytest.approx(by_hand, abs=1e-15)


def test_one_wrong_sensor_for_both_matters_only_where_the_materials_differ() -> None:
    # Later found to show 0.8 K too much, at 150 mm.
    off = SensorErrors(Decimal("0.8"), Decimal("0.8"))
    alike = sensor_change(Decimal(150), CALM, off, is_corrected=True)
    assert alike.change_mm == 0
    unlike = sensor_change(Decimal(150), WARM, off, is_corrected=True)
    assert unlike.change_mm == Decimal("-0.001392000")
    assert unlike.change_mm == unlike.effect_after_mm - unlike.effect_before_mm


def test_an_error_that_was_not_corrected_does_not_change_but_its_effect_does() -> None:
    off = SensorErrors(Decimal(-2), Decimal(0))
    found = sensor_change(Decimal(100), CALM, off, is_corrected=False)
    assert found.change_mm == 0
    assert (found.effect_before_mm, found.effect_after_mm) == (Decimal(0), Decimal("0.0023"))


def test_what_is_no_temperature_is_refused() -> None:
    nan = Decimal("NaN")
    with pytest.raises(NotANumber):
        true_temperatures(WARM, SensorErrors(nan, Decimal(0)))
    with pytest.raises(NotANumber):
        sensor_change(Decimal("Infinity"), WARM, SensorErrors(Decimal(0), Decimal(0)), is_corrected=True)
    with pytest.raises(NotANumber):
        thermal_correction(nan, WARM, SURE)
    with pytest.raises(NotANumber):
        sensor_changes(
            np.array([math.nan]), SensorErrors(Decimal(1), Decimal(0)),
            alpha_instrument_per_k=1e-5, alpha_standard_per_k=1e-5,
        )  # fmt: skip
    with pytest.raises(BadComponent):
        thermal_correction(Decimal(100), WARM, ThermalDoubt(-0.1, 0.0, 0.0, 0.0))


@pytest.mark.parametrize(
    ("quantity", "length", "grade"),
    [
        ("grade0_25mm_um", 25, BlockGrade.ZERO),
        ("grade0_100mm_um", 100, BlockGrade.ZERO),
        ("AS_25mm_um", 25, BlockGrade.AS_1),
        ("AS_100mm_um", 100, BlockGrade.AS_2),
    ],
)
def test_how_much_a_gauge_block_may_change_in_a_year(quantity: str, length: float, grade: BlockGrade) -> None:
    assert permitted_change_um(length, grade) == pytest.approx(case("gb-1")["expected"][quantity], rel=1e-12)


@pytest.mark.parametrize("bad", [0.0, -1.0, 1000.1, math.nan])
def test_no_block_has_this_length(bad: float) -> None:
    with pytest.raises(NoBlockLength):
        permitted_change_um(bad, BlockGrade.K)
