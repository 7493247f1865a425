"""Temperature: lengths carried to 20 °C, and how long a gauge has to lie before it has the room's temperature.

Lives here: lengths of single pieces and the soak estimate. May not live here: the temperature's part in U (specs),
in the error of a point (error.py, thermal.py). A temperature is corrected or carried in U, never both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.specs.temperature import REFERENCE_TEMPERATURE_C

STEEL_DENSITY = 7850.0
"""kg/m³ (common practice, no source)."""
STEEL_HEAT_CAPACITY = 480.0
"""J/(kg·K) (common practice, no source)."""
STILL_AIR = 10.0
"""Heat transfer to still air, W/(m²·K) (common practice, no source); several times more on a thick plate."""


class TemperatureOutOfReach(LabError, ValueError):
    """A temperature, gap or size that makes no estimate."""

    code = "temperature-out-of-reach"
    sentence = "Expected {expected}, found {found}. Correct the value."


@dataclass(frozen=True, slots=True)
class Soak:
    """An estimate: time constant, and time until only the wanted gap is left, both in minutes."""

    time_constant_min: float
    needed_min: float

    def gap_after(self, minutes: float, *, gap_k: float) -> float:
        """Give what is left of a gap in kelvin after so many minutes: gap·e^(−t/τ). Raises TemperatureOutOfReach."""
        if not (minutes >= 0 and math.isfinite(gap_k)):
            raise TemperatureOutOfReach(
                expected="a finite gap and zero minutes or more", found=f"{gap_k} K, {minutes} min"
            )
        return gap_k * math.exp(-minutes / self.time_constant_min)


def length_at_20(length_mm: float, temperature_c: float, alpha_per_k: float) -> float:
    """Carry a length measured at ``temperature_c`` to 20 °C (ISO 1): L/(1 + α·(t − 20)) in mm, α of the piece in 1/K.

    Raises TemperatureOutOfReach.
    """
    stretch = 1 + alpha_per_k * (temperature_c - REFERENCE_TEMPERATURE_C)
    if not (math.isfinite(stretch * length_mm) and stretch > 0):
        raise TemperatureOutOfReach(expected="a temperature near 20 °C", found=f"{temperature_c} °C")
    return length_mm / stretch


def apparent_difference(
    length_mm: float, *, part_alpha_per_k: float, standard_alpha_per_k: float, temperature_c: float
) -> float:
    """Give by how much a part seems longer than its standard (mm) when both lie at ``temperature_c``."""
    off_20 = temperature_c - REFERENCE_TEMPERATURE_C
    return length_mm * (part_alpha_per_k - standard_alpha_per_k) * off_20


def gap_allowed(length_mm: float, alpha_per_k: float, *, within_mm: float) -> float:
    """Give the gap in kelvin between gauge and standard that changes a length by ``within_mm``: δ/(L·α).

    How near is near enough follows from the uncertainty wanted. Raises TemperatureOutOfReach.
    """
    _expect_above_zero(length=length_mm, expansion=alpha_per_k, change=within_mm)
    return within_mm / (length_mm * alpha_per_k)


def soak(volume_mm3: float, surface_mm2: float, *, gap_k: float, left_k: float = 0.1) -> Soak:
    """Estimate how long a steel piece lies in still air until of ``gap_k`` only ``left_k`` kelvin are left.

    One time constant is ρ·c·(V/A)/h; the gap shrinks by e in each. Thin pieces cool as a whole, which this
    takes for granted. Raises TemperatureOutOfReach.
    """
    _expect_above_zero(volume=volume_mm3, surface=surface_mm2)
    if not (math.isfinite(gap_k) and left_k > 0):
        raise TemperatureOutOfReach(
            expected="a finite gap and a rest above zero", found=f"{gap_k} K, {left_k} K"
        )
    seconds = STEEL_DENSITY * STEEL_HEAT_CAPACITY * (volume_mm3 / surface_mm2 / 1000) / STILL_AIR
    constants = math.log(max(1.0, abs(gap_k) / left_k))
    return Soak(seconds / 60, seconds / 60 * constants)


def soak_of_bar(width_mm: float, height_mm: float, *, gap_k: float, left_k: float = 0.1) -> Soak:
    """Estimate the soak of a long bar, such as a caliper's beam or a gauge block, from its section."""
    return soak(width_mm * height_mm, 2 * (width_mm + height_mm), gap_k=gap_k, left_k=left_k)


def soak_of_cylinder(diameter_mm: float, *, gap_k: float, left_k: float = 0.1) -> Soak:
    """Estimate the soak of a long cylinder, such as a plug."""
    return soak(math.pi * diameter_mm * diameter_mm / 4, math.pi * diameter_mm, gap_k=gap_k, left_k=left_k)


def _expect_above_zero(**sizes: float) -> None:
    for name, value in sizes.items():
        if not (math.isfinite(value) and value > 0):
            raise TemperatureOutOfReach(expected=f"a {name} above zero", found=value)
