"""Exact decimal arithmetic: the context every exact sum is done in, and the last digit of a number.

Lives here: what units, errors and reports share about Decimal. May not live here: units, rounding rules.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Context, Decimal

from labsys.errors import LabError

EXACT = Context(prec=120, rounding=ROUND_HALF_EVEN)
"""Wide enough that no sum or product of lengths, coefficients and temperatures is ever rounded in it."""


class NotANumber(LabError, ValueError):
    """The text, or the value, is no finite number."""

    code = "not-a-number"
    field = "reading"
    sentence = (
        "Expected a number such as 25.40, found “{found}”. Type the reading again as the gauge shows it."
    )


def finite(value: Decimal) -> Decimal:
    """Give ``value`` back, or raise NotANumber for NaN and infinities."""
    if not value.is_finite():
        raise NotANumber(found=str(value))
    return value


def exponent_of(value: Decimal) -> int:
    """Give the power of ten of the last digit ``value`` is written with: 0.010 → −3; raises NotANumber."""
    exponent = finite(value).as_tuple().exponent
    assert isinstance(exponent, int)  # finite, so never one of the letters
    return exponent


def plain(value: Decimal) -> Decimal:
    """Drop trailing zeros behind the point, and powers of ten before it: 0.010 → 0.01, 1E+2 → 100."""
    reduced = finite(value).normalize(EXACT)
    return reduced if exponent_of(reduced) <= 0 else Decimal(format(reduced, "f"))
