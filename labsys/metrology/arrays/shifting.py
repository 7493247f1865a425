"""Moving many limits by a guard and comparing many accuracy ratios, exactly.

Lives here: whole picometres from floats, with what lies near a tie worked out in Decimal. May not live here: rules.
"""

from __future__ import annotations

from decimal import Decimal, localcontext
from typing import TYPE_CHECKING, Any

from labsys.metrology.acceptance import shifted_inward
from labsys.metrology.arrays.limits import FARTHEST_PM, LimitArrays, refuse_far
from labsys.metrology.error import to_picometres
from labsys.metrology.exact import EXACT

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Whole = NDArray[np.int64]


def shift(
    limits: LimitArrays, widths_mm: NDArray[np.float64], multiple: Decimal, into: tuple[Whole, Whole]
) -> None:
    """Put limits moved inward by ``multiple`` times the widths ``into`` lower and upper, as ``shifted_inward`` would.

    Outward for a negative ``multiple``. Where nothing is left the lower one comes out above the upper one. Raises
    LimitTooFar for a guard beyond 1 km.
    """
    import numpy as np

    guards, near = _rounded(widths_mm, multiple)
    lower, upper = into
    np.add(limits.lower_pm, guards, out=lower)
    np.subtract(limits.upper_pm, guards, out=upper)
    for point in near:
        with localcontext(EXACT):
            moved = shifted_inward(limits.one(point), multiple * Decimal(float(widths_mm[point])))
        low, high = (1, 0) if moved is None else moved.in_picometres()
        lower[point] = lower[point] if low is None else low
        upper[point] = upper[point] if high is None else high


def are_ratios_poor(limits: LimitArrays, U_mm: NDArray[np.float64], min_ratio: Decimal) -> NDArray[np.bool_]:
    """Say whose accuracy ratio (T_U − T_L)/(2U) lies under ``min_ratio``, widths in whole picometres.

    With the ratio as p/q that is q·(T_U − T_L) < 2·p·U, which whole numbers settle. Without meaning where a limit
    is missing.
    """
    import numpy as np

    U_pm, near = _rounded(U_mm, Decimal(1))
    for point in near:
        U_pm[point] = to_picometres(float(U_mm[point]))
    one_sided = limits.have_no_lower | limits.have_no_upper
    width: NDArray[Any] = np.where(one_sided, 0, limits.upper_pm - limits.lower_pm)
    needed: NDArray[Any] = U_pm
    p, q = min_ratio.as_integer_ratio()
    if max(2 * p, q) * FARTHEST_PM * 2 >= 1 << 63:
        width, needed = width.astype(object), needed.astype(object)
    return np.asarray(width * q < needed * (2 * p), dtype=bool)


def _rounded(widths_mm: NDArray[np.float64], multiple: Decimal) -> tuple[Whole, list[int]]:
    """Round ``multiple`` times the widths to picometres; the places too near a tie for a float are listed."""
    import numpy as np

    scaled = widths_mm * (float(multiple) * 1e9)
    refuse_far(scaled, "a guard or U")
    rounded = np.rint(scaled)
    # Three roundings of half a unit in the last place each, ten times over.
    farthest = max(float(scaled.max(initial=0.0)), -float(scaled.min(initial=0.0)))
    near = np.flatnonzero(np.abs(scaled - rounded) >= 0.5 - (farthest * 4e-15 + 1e-9))
    return rounded.astype(np.int64), near.tolist()
