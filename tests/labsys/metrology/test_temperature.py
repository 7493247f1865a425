"""Temperature: published corrections, estimates of soak time."""

from __future__ import annotations

import math

import pytest

from labsys.metrology.components import Component
from labsys.metrology.temperature import (
    Soak,
    TemperatureOutOfReach,
    apparent_difference,
    gap_allowed,
    length_at_20,
    soak,
    soak_of_bar,
    soak_of_cylinder,
)
from tests.labsys.metrology.published import entry, printed, recomputed

STEEL = printed("thermal", "alpha steel") * 1e-6
ALUMINIUM = printed("thermal", "alpha aluminium") * 1e-6


def test_a_steel_rod_carried_to_20_degrees() -> None:
    found = length_at_20(500.035, 23.7, 11.7e-6)
    case = entry("thermal", "L at 20 degC")
    assert found == pytest.approx(float(case["printed"]), abs=case["tol"])
    # The recomputed figure is the first-order form, 0.9 nm from the quotient.
    assert found == pytest.approx(case["recomputed"], abs=1e-6)


def test_an_aluminium_part_on_a_steel_standard() -> None:
    quantity = "constructed: steel standard and aluminium part, 100 mm, both at 22 degC, apparent difference"
    found = apparent_difference(100, part_alpha_per_k=ALUMINIUM, standard_alpha_per_k=STEEL, temperature_c=22)
    assert found * 1000 == pytest.approx(recomputed("thermal", quantity), rel=1e-9)


@pytest.mark.parametrize(
    ("length_mm", "scale", "quantity"),
    [
        (50, 1e6, "steel 50 mm sensitivity"),
        (150, 1e3, "steel 150 mm sensitivity (S10)"),
    ],
)
def test_sensitivity_of_a_steel_length(length_mm: float, scale: float, quantity: str) -> None:
    per_kelvin = Component(
        "t", 1.0, size_unit="K", sensitivity=length_mm * STEEL, divisor=1.0
    ).contribution_mm
    case = entry("thermal", quantity)
    assert per_kelvin * scale == pytest.approx(float(case["printed"]), abs=case["tol"])


@pytest.mark.parametrize(
    ("found", "constant", "needed"),
    [
        # Worked from the same formula by hand: still air, 5 K gap down to 0.1 K (3.9 time constants).
        (soak_of_bar(16, 4, gap_k=5), 10, 39),
        (soak_of_bar(9, 35, gap_k=5), 22, 88),
        (soak_of_cylinder(25, gap_k=5), 39, 154),
        (soak_of_cylinder(50, gap_k=5), 79, 307),
    ],
)
def test_soak_times(found: Soak, constant: float, needed: float) -> None:
    assert found.time_constant_min == pytest.approx(constant, abs=0.6)
    assert found.needed_min == pytest.approx(needed, abs=1)


def test_what_has_the_rooms_temperature_needs_no_soak() -> None:
    assert soak_of_bar(16, 4, gap_k=-0.05).needed_min == 0
    assert soak_of_bar(16, 4, gap_k=-5).needed_min == soak_of_bar(16, 4, gap_k=5).needed_min


def test_the_gap_shrinks_as_the_estimate_says() -> None:
    found = soak_of_bar(16, 4, gap_k=5, left_k=0.1)
    assert found.gap_after(found.needed_min, gap_k=5) == pytest.approx(0.1)
    assert found.gap_after(found.time_constant_min, gap_k=-5) == pytest.approx(-5 / math.e)
    assert found.gap_after(0, gap_k=5) == 5


def test_the_soak_follows_the_cooling_of_a_lump() -> None:
    # The differential equation itself, stepped by 0.1 s: dT/dt = −h·A·T/(ρ·c·V), in metres.
    gap, volume, surface = 5.0, 1000 * 16 * 4e-9, 1000 * 2 * (16 + 4) * 1e-6
    for _ in range(60 * 30 * 10):
        gap -= 0.1 * 10.0 * surface * gap / (7850 * 480 * volume)
    assert soak_of_bar(16, 4, gap_k=5).gap_after(30, gap_k=5) == pytest.approx(gap, rel=5e-4)


def test_how_near_is_near_enough_follows_from_the_change_allowed() -> None:
    gap = gap_allowed(100, STEEL, within_mm=0.0001)
    assert length_at_20(100 + 0.0001, 20 + gap, STEEL) == pytest.approx(100, abs=1e-9)


def test_estimates_that_cannot_be() -> None:
    for bad in (0.0, math.nan, math.inf):
        with pytest.raises(TemperatureOutOfReach):
            gap_allowed(100, STEEL, within_mm=bad)
    for minutes, gap in ((-1.0, 5.0), (math.nan, 5.0), (1.0, math.inf)):
        with pytest.raises(TemperatureOutOfReach):
            soak_of_bar(16, 4, gap_k=5).gap_after(minutes, gap_k=gap)
    with pytest.raises(TemperatureOutOfReach):
        length_at_20(100, math.nan, STEEL)
    with pytest.raises(TemperatureOutOfReach):
        soak(0, 1, gap_k=5)
    with pytest.raises(TemperatureOutOfReach):
        soak(1, math.inf, gap_k=5)
    with pytest.raises(TemperatureOutOfReach):
        soak(1, 1, gap_k=math.nan)
    with pytest.raises(TemperatureOutOfReach):
        soak(1, 1, gap_k=5, left_k=0)
