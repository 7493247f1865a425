"""Series of values as they are given, made into arrays or refused by name.

Lives here: what every fit and chart asks of its values before it starts. May not live here: arithmetic.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from labsys.errors import LabError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class SeriesUnusable(LabError, ValueError):
    """Values to be fitted that don't belong together or aren't finite."""

    code = "series-unusable"
    sentence = "Expected {expected}, found {found}. Correct the series."


def series(values: Sequence[float], name: str) -> NDArray[np.float64]:
    """Make an array of finite numbers, or raise SeriesUnusable with ``name``."""
    import numpy as np

    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or not len(array):
        raise SeriesUnusable(expected=f"a series of {name}", found="none")
    if not np.isfinite(array).all():
        place = int(np.flatnonzero(~np.isfinite(array))[0])
        raise SeriesUnusable(expected=f"finite {name}", found=f"{array[place]} at {place + 1}")
    return array


def spreads(u: Sequence[float] | None, count: int, *, is_needed: bool) -> NDArray[np.float64]:
    """Make an array of ``count`` uncertainties above zero, ones where none are given; raises SeriesUnusable."""
    import numpy as np

    if u is None:
        if is_needed:
            raise SeriesUnusable(expected="the uncertainty of every value", found="none")
        return np.ones(count)
    spread = series(u, "uncertainties")
    if len(spread) != count:
        raise SeriesUnusable(expected=f"{count} uncertainties, one for each value", found=len(spread))
    if not (spread > 0).all():
        raise SeriesUnusable(expected="uncertainties above zero", found=f"{spread.min():g}")
    return spread
