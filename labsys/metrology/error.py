"""The error of indication of one point, exactly, and the same for many points at once.

Lives here: reference length, error, whole picometres (the integers every verdict compares).
May not live here: limits and verdicts (decision.py), uncertainty (budget.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from typing import TYPE_CHECKING

from labsys.errors import LabError
from labsys.metrology.exact import EXACT, NotANumber

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

REFERENCE_TEMPERATURE_C = Decimal(20)
"""Reference temperature of length measurement, 20 °C (ISO 1)."""

PICOMETRE = Decimal("0.000000001")


class NoReference(LabError, ValueError):
    """A reference length was asked for without any reference."""

    code = "no-reference"
    sentence = (
        "Expected at least one reference standard for the point, found none. Choose the standard the point "
        "was read on."
    )


@dataclass(frozen=True, slots=True)
class Reference:
    """One element the gauge was held against: nominal and calibrated deviation at 20 °C, in mm, ``count`` times."""

    nominal_mm: Decimal
    deviation_mm: Decimal
    count: int = 1


@dataclass(frozen=True, slots=True)
class Temperatures:
    """Temperatures (°C) and expansion coefficients (1/K) of instrument and standard, for a corrected error."""

    instrument_c: Decimal
    standard_c: Decimal
    alpha_instrument_per_k: Decimal
    alpha_standard_per_k: Decimal

    @property
    def strain(self) -> Decimal:
        """Give α_i·(t_i − 20) − α_s·(t_s − 20), dimensionless and exact."""
        with localcontext(EXACT):
            return self.alpha_instrument_per_k * (self.instrument_c - REFERENCE_TEMPERATURE_C) - (
                self.alpha_standard_per_k * (self.standard_c - REFERENCE_TEMPERATURE_C)
            )


def reference_length(references: Sequence[Reference]) -> Decimal:
    """Add nominal plus deviation of every reference, L = Σ (N_j + d_j), in mm; raises NoReference for none."""
    if not references:
        raise NoReference()
    with localcontext(EXACT):
        return sum(((one.nominal_mm + one.deviation_mm) * one.count for one in references), Decimal(0))


def error_of_indication(
    *, reading_mm: Decimal, length_mm: Decimal, temperatures: Temperatures | None
) -> Decimal:
    """Give E = r − L + L·(α_i·(t_i − 20) − α_s·(t_s − 20)) in mm, rounded half to even to 1e-9 mm.

    Plus means that the gauge reads too long (VIM 2.16 for an indicating instrument). Without ``temperatures``
    the error is not corrected and the effect belongs into the uncertainty, never both. First order in the
    expansion: at 1000 mm, 5 K and 12e-6/K what is left out is under 0.01 µm. Raises NotANumber for NaN and
    infinities.
    """
    with localcontext(EXACT):
        error = reading_mm - length_mm
        if temperatures is not None:
            error += length_mm * temperatures.strain
    return from_picometres(to_picometres(error))


def to_picometres(value_mm: Decimal | float) -> int:
    """Round ``value_mm`` half to even to whole picometres (1e-9 mm); raises NotANumber for NaN and infinities.

    A float is taken at its exact binary value, so the answer never depends on how it would be printed.
    """
    exact = Decimal(value_mm)
    if not exact.is_finite():
        raise NotANumber(found=str(value_mm))
    with localcontext(EXACT):
        return int(exact.scaleb(9).to_integral_value(ROUND_HALF_EVEN))


def from_picometres(picometres: int) -> Decimal:
    """Give whole picometres as mm with nine decimals."""
    with localcontext(EXACT):
        return Decimal(picometres).scaleb(-9)


def errors_in_picometres(
    readings_mm: NDArray[np.float64], lengths_mm: NDArray[np.float64], temperatures: Temperatures | None
) -> NDArray[np.int64]:
    """Give the errors of many points in whole picometres, the same integers as ``error_of_indication`` one by one.

    ``readings_mm`` and ``lengths_mm`` have one shape; each stands for the nearest whole picometre, which is how
    lengths are kept, so binary fractions can't shift a verdict (|value| up to 999999 mm). Where the temperature
    term comes within a thousandth of a tie, that point is worked out in Decimal. Raises NotANumber for NaN and
    infinities.
    """
    import numpy as np

    if not (np.isfinite(readings_mm).all() and np.isfinite(lengths_mm).all()):
        raise NotANumber(found="nan or infinity in an array")
    readings = np.rint(np.asarray(readings_mm) * 1e9).astype(np.int64)
    lengths = np.rint(np.asarray(lengths_mm) * 1e9).astype(np.int64)
    errors: NDArray[np.int64] = readings - lengths
    return errors if temperatures is None else _warmed(readings, lengths, temperatures)


def _warmed(
    readings: NDArray[np.int64], lengths: NDArray[np.int64], temperatures: Temperatures
) -> NDArray[np.int64]:
    import numpy as np

    term = lengths * float(temperatures.strain)
    whole = np.floor(term)
    errors: NDArray[np.int64] = readings - lengths + np.rint(term).astype(np.int64)
    for index in np.argwhere(np.abs(term - whole - 0.5) < np.maximum(1e-3, np.abs(term) * 1e-14)):
        place = tuple(index)
        reading, length = (from_picometres(int(array[place])) for array in (readings, lengths))
        exact = error_of_indication(reading_mm=reading, length_mm=length, temperatures=temperatures)
        errors[place] = to_picometres(exact)
    return errors
