"""The temperature's part in an error: what is corrected, how well, and what a sensor found wrong later changes.

Lives here: correction, its uncertainty as components, the change by wrong sensors. May not live here: which way a
procedure goes (a temperature is corrected or carried in U, never both), soaking (temperature.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import TYPE_CHECKING

from labsys.metrology.components import Component, Distribution
from labsys.metrology.error import REFERENCE_TEMPERATURE_C, Temperatures, from_picometres, to_picometres
from labsys.metrology.exact import EXACT, NotANumber, finite

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class ThermalDoubt:
    """Standard uncertainties behind a correction.

    Of the standard's temperature (K), of the gauge's difference from it (K), of both coefficients (1/K). Given this
    way because two sensors read side by side share most of what is wrong with them.
    """

    standard_k: float
    difference_k: float
    alpha_instrument_per_k: float
    alpha_standard_per_k: float


@dataclass(frozen=True, slots=True)
class ThermalCorrection:
    """A correction in mm, to be added to reading minus reference, and the components of its uncertainty."""

    correction_mm: Decimal
    components: tuple[Component, ...]

    @property
    def u_mm(self) -> float:
        """Give the standard uncertainty of the correction in mm."""
        return math.hypot(*(one.contribution_mm for one in self.components))


@dataclass(frozen=True, slots=True)
class SensorErrors:
    """What sensors were later found to show too much (K; plus: they showed too warm) at gauge and at standard."""

    instrument_k: Decimal
    standard_k: Decimal


@dataclass(frozen=True, slots=True)
class SensorChange:
    """What wrong sensors change in one past error, in mm.

    ``change_mm`` is to be added to the error; zero where it wasn't corrected, for then no temperature entered it.
    ``effect_before_mm`` and ``effect_after_mm`` are the thermal effect as it was taken and as it truly was: what an
    error that isn't corrected left to its U.
    """

    change_mm: Decimal
    effect_before_mm: Decimal
    effect_after_mm: Decimal


def thermal_correction(
    length_mm: Decimal, temperatures: Temperatures, doubt: ThermalDoubt
) -> ThermalCorrection:
    """Give L·(α_i·(t_i − 20) − α_s·(t_s − 20)) in mm, to a picometre, with the components of its uncertainty.

    With δ = t_i − t_s the sensitivities are L·(α_i − α_s) to t_s, L·α_i to δ, L·(t − 20) to each coefficient; the
    last component holds the products of their uncertainties, with which the variance of independent inputs is
    complete (JCGM 100:2008, 5.1.2 and its note; the same model in H.1). Raises NotANumber, BadComponent.
    """
    finite(length_mm)
    length = float(length_mm)
    alpha_i, alpha_s = float(temperatures.alpha_instrument_per_k), float(temperatures.alpha_standard_per_k)
    off_i = float(temperatures.instrument_c - REFERENCE_TEMPERATURE_C)
    off_s = float(temperatures.standard_c - REFERENCE_TEMPERATURE_C)
    rows = (
        ("temperature of the standard", doubt.standard_k, "K", length * (alpha_i - alpha_s)),
        ("temperature difference of gauge and standard", doubt.difference_k, "K", length * alpha_i),
        ("expansion coefficient of the gauge", doubt.alpha_instrument_per_k, "1/K", length * off_i),
        ("expansion coefficient of the standard", doubt.alpha_standard_per_k, "1/K", -length * off_s),
    )
    first = tuple(
        Component(name, size, Distribution.NORMAL, size_unit=unit, sensitivity=sensitivity)
        for name, size, unit, sensitivity in rows
    )
    both = Component(
        "coefficients and temperatures together",
        math.hypot(
            math.hypot(doubt.alpha_instrument_per_k, doubt.alpha_standard_per_k) * doubt.standard_k,
            doubt.alpha_instrument_per_k * doubt.difference_k,
        ),
        Distribution.PRODUCT,
        size_unit="1",
        sensitivity=length,
    )
    return ThermalCorrection(_effect(length_mm, temperatures), (*first, both))


def true_temperatures(shown: Temperatures, off: SensorErrors) -> Temperatures:
    """Give the temperatures without what the sensors showed too much, exactly; raises NotANumber."""
    with localcontext(EXACT):
        return Temperatures(
            shown.instrument_c - finite(off.instrument_k),
            shown.standard_c - finite(off.standard_k),
            shown.alpha_instrument_per_k,
            shown.alpha_standard_per_k,
        )


def sensor_change(
    length_mm: Decimal, shown: Temperatures, off: SensorErrors, *, is_corrected: bool
) -> SensorChange:
    """Give what wrong sensors change in the error of a point: −L·(α_i·e_i − α_s·e_s), to a picometre.

    ``is_corrected`` says whether the error was corrected for temperature. An error worked out again from
    ``true_temperatures`` agrees within one picometre of rounding. Raises NotANumber.
    """
    before = _effect(finite(length_mm), shown)
    after = _effect(length_mm, true_temperatures(shown, off))
    return SensorChange(after - before if is_corrected else Decimal(0), before, after)


def sensor_changes(
    lengths_mm: NDArray[np.float64],
    off: SensorErrors,
    *,
    alpha_instrument_per_k: NDArray[np.float64] | float,
    alpha_standard_per_k: NDArray[np.float64] | float,
) -> NDArray[np.float64]:
    """Give the same change for many corrected errors at once, in mm; arrays have one shape. Raises NotANumber."""
    import numpy as np

    strain = np.asarray(alpha_instrument_per_k) * float(finite(off.instrument_k)) - (
        np.asarray(alpha_standard_per_k) * float(finite(off.standard_k))
    )
    changes = -np.asarray(lengths_mm, dtype=np.float64) * strain
    if not np.isfinite(changes).all():
        raise NotANumber(found="nan or infinity in an array")
    return changes


def _effect(length_mm: Decimal, temperatures: Temperatures) -> Decimal:
    with localcontext(EXACT):
        return from_picometres(to_picometres(length_mm * temperatures.strain))
