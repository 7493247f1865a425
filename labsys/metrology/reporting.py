"""How a result is printed: rounding of U and of the error, signs, the sentence about the uncertainty.

Lives here: rounding and words of numbers. May not live here: verdicts; nothing rounded here is ever judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal, InvalidOperation, localcontext
from enum import StrEnum
from typing import Literal

from labsys.errors import LabError
from labsys.metrology.budget import Budget
from labsys.metrology.coverage import Shape
from labsys.metrology.exact import EXACT, NotANumber, exponent_of, finite
from labsys.metrology.units import Unit, from_mm, to_mm

MINUS = "\u2212"
LARGEST_LOSS = Decimal("0.05")
"""Rounding U down may not lose more than this share of it (EA-4/02 M:2022 section 6, the rule from memory)."""


class Rounding(StrEnum):
    """Which way a tie goes (ISO 80000-1 annex B: rule A half to even, rule B half away from zero)."""

    HALF_EVEN = "half_even"
    HALF_UP = "half_up"


_MODES = {Rounding.HALF_EVEN: ROUND_HALF_EVEN, Rounding.HALF_UP: ROUND_HALF_UP}


class NothingToReport(LabError, ValueError):
    """An expanded uncertainty of zero or less, which settles no decimal place."""

    code = "nothing-to-report"
    sentence = (
        "Expected an expanded uncertainty above zero, found {found}. Complete the budget before reporting."
    )


@dataclass(frozen=True, slots=True)
class Reported:
    """An error and its U as printed, in ``unit``, both to the same decimal place."""

    error: Decimal
    U: Decimal
    unit: Unit

    @property
    def decimals(self) -> int:
        """Count the decimals printed."""
        return decimals_of(self.U)

    @property
    def error_mm(self) -> Decimal:
        """Give the printed error in mm, exactly."""
        return to_mm(self.error, self.unit)

    @property
    def text(self) -> str:
        """Give error ± U with the unit, such as “(+0.10 ± 0.06) mm”."""
        return f"({_signed(self.error)} ± {self.U:f}) {self.unit.value}"


def report(
    error_mm: Decimal,
    U_mm: float | Decimal,
    *,
    digits: Literal[1, 2] = 2,
    rounding: Rounding = Rounding.HALF_EVEN,
    unit: Unit = Unit.MM,
    always_up: bool = False,
) -> Reported:
    """Convert both to ``unit``, round U to ``digits`` significant digits and the error to the same decimal place.

    JCGM 100:2008, 7.2.6: at most two digits for U, the estimate to the same place; ``always_up`` rounds U up, which
    the clause allows. Raises NothingToReport, NotANumber.
    """
    exact = from_mm_exactly(as_decimal(U_mm), unit)
    U = round_uncertainty(exact, digits=digits, rounding=rounding, always_up=always_up)
    error = round_to(from_mm_exactly(error_mm, unit), place=exponent_of(U), rounding=rounding)
    return Reported(error, U, unit)


def round_uncertainty(
    U: Decimal, *, digits: Literal[1, 2] = 2, rounding: Rounding = Rounding.HALF_EVEN, always_up: bool = False
) -> Decimal:
    """Round U to ``digits`` significant digits.

    Rounded up where rounding down would lose more than 5 % (EA-4/02), or always with ``always_up``. 0.0996
    gives 0.10: a carry doesn't add a digit. Raises NothingToReport for zero or less, NotANumber for NaN and
    infinities.
    """
    if finite(U) <= 0:
        raise NothingToReport(found=U)
    place = U.adjusted() - digits + 1
    rounded = round_to(U, place=place, rounding=rounding)
    if always_up or rounded < U * (1 - LARGEST_LOSS):
        rounded = _quantized(U, place, ROUND_CEILING)
    carried = rounded.adjusted() - digits + 1
    return rounded if carried == place else _quantized(rounded, carried, ROUND_HALF_EVEN)


def round_to(value: Decimal, *, place: int, rounding: Rounding = Rounding.HALF_EVEN) -> Decimal:
    """Round ``value`` to the power of ten ``place`` (−2: hundredths); raises NotANumber for NaN and infinities."""
    return _quantized(finite(value), place, _MODES[rounding])


def format_signed(
    value_mm: Decimal, *, decimals: int, unit: Unit = Unit.MM, rounding: Rounding = Rounding.HALF_EVEN
) -> str:
    """Print ``value_mm`` in ``unit`` with ``decimals``, always with its sign and a real minus; zero takes the plus."""
    return _signed(round_to(from_mm_exactly(value_mm, unit), place=-decimals, rounding=rounding))


def uncertainty_sentence(budget: Budget) -> str:
    """Say on a certificate how U was obtained: k, shape, coverage probability (after EA-4/02 M:2022, section 6)."""
    return (
        "The reported expanded uncertainty of measurement is the combined standard uncertainty multiplied by "
        f"the coverage factor k = {budget.k:.2f}, which for {shape_words(budget)} corresponds to a coverage "
        f"probability of about {percent(budget.probability)}."
    )


def uncertainty_sentence_of(budgets: Sequence[Budget]) -> str:
    """Say the same once for several results with t-distributions, k of each standing beside it."""
    k, nu = [budget.k for budget in budgets], [budget.nu_used for budget in budgets]
    return (
        "The reported expanded uncertainty of measurement is the combined standard uncertainty multiplied by "
        f"the coverage factor k stated beside each result ({min(k):.2f} to {max(k):.2f}), which for t-distributions "
        f"with {min(nu):g} to {max(nu):g} effective degrees of freedom corresponds to a coverage probability of about "
        f"{percent(budgets[0].probability)}."
    )


def percent(probability: float) -> str:
    """Print a probability in percent with as many decimals as it has: 0.9545 → “95.45 %”, 0.95 → “95 %”."""
    return f"{(as_decimal(probability) * 100).normalize():f} %"


def as_decimal(value: float | Decimal) -> Decimal:
    """Take a float at the shortest decimal that reads back to it, which is what a person would have written."""
    return value if isinstance(value, Decimal) else Decimal(repr(float(value)))


def decimals_of(value: Decimal) -> int:
    """Count the decimals that ``value`` is written with."""
    return max(0, -exponent_of(value))


def from_mm_exactly(value_mm: Decimal, unit: Unit) -> Decimal:
    """Convert for printing with far more digits than any report shows, so that only one rounding counts."""
    return value_mm if unit is Unit.MM else from_mm(value_mm, unit, decimals=40)


def shape_words(budget: Budget) -> str:
    """Name the distribution that the result is taken to have, as a sentence says it."""
    if budget.shape is Shape.RECTANGULAR:
        return "a rectangular distribution"
    if budget.shape is Shape.TRAPEZOIDAL:
        return f"a trapezoidal distribution with edge parameter β = {budget.beta or 0.0:.2f}"
    if budget.nu_used == float("inf"):
        return "a normal distribution"
    return f"a t-distribution with {budget.nu_used:g} effective degrees of freedom"


def _signed(value: Decimal) -> str:
    sign = MINUS if value < 0 else "+"
    return f"{sign}{abs(value):f}"


def _quantized(value: Decimal, place: int, mode: str) -> Decimal:
    with localcontext(EXACT):
        try:
            return value.quantize(Decimal(1).scaleb(place), rounding=mode)
        except InvalidOperation as fault:
            # More digits than any length has between the first and the place asked for.
            raise NotANumber(found=str(value)) from fault
