"""The limits of many results in whole picometres.

Lives here: their form, made from limits and turned back into them. May not live here: rules.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from labsys.errors import LabError
from labsys.metrology.arrays.components import ShapesDiffer
from labsys.metrology.error import from_picometres
from labsys.metrology.limits import Limits, LimitsCrossed
from labsys.metrology.units import Unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NO_UPPER: Final = 1 << 61
"""What stands where there is no upper limit: beyond every length, and near enough to zero that sums don't overflow."""

NO_LOWER: Final = -NO_UPPER
_NONE_FROM: Final = 1 << 60
FARTHEST_PM: Final = 10**15
"""Largest limit and error of a result in an array, 1 km."""


class LimitTooFar(LabError, ValueError):
    """A length that arrays of whole picometres don't reach."""

    code = "limit-too-far"
    sentence = "Expected {what} within 1 km of zero, found {found} pm at point {point}. Check the unit."


@dataclass(frozen=True, slots=True, eq=False)
class LimitArrays:
    """Lower and upper limits of N results in picometres, NO_LOWER and NO_UPPER where there's none on that side.

    Whatever lies beyond 2^60 counts as none, so that a guard may be added to all alike.
    Raises ShapesDiffer, LimitsCrossed, LimitTooFar.
    """

    lower_pm: NDArray[np.int64]
    upper_pm: NDArray[np.int64]

    def __post_init__(self) -> None:
        """Refuse limits that nothing could lie between, or that sums could carry out of reach."""
        import numpy as np

        if self.lower_pm.shape != self.upper_pm.shape or self.lower_pm.ndim != 1:
            raise ShapesDiffer(name="upper limits", expected=self.lower_pm.shape, found=self.upper_pm.shape)
        crossed = self.lower_pm > self.upper_pm
        if crossed.any():
            point = int(np.argmax(crossed))
            lower, upper = _mm(self.lower_pm[point]), _mm(self.upper_pm[point])
            raise LimitsCrossed(lower=lower, upper=upper, gap=Unit.MM.gap, unit=Unit.MM)
        refuse_far(self.lower_pm, "a lower limit", but=self.have_no_lower)
        refuse_far(self.upper_pm, "an upper limit", but=self.have_no_upper)

    @property
    def have_no_lower(self) -> NDArray[np.bool_]:
        """Say which have no lower limit."""
        return self.lower_pm < -_NONE_FROM

    @property
    def have_no_upper(self) -> NDArray[np.bool_]:
        """Say which have no upper limit."""
        return self.upper_pm > _NONE_FROM

    @classmethod
    def of(cls, limits: Sequence[Limits]) -> LimitArrays:
        """Make arrays of ``limits``; what isn't a whole picometre is rounded half to even."""
        import numpy as np

        whole = [one.in_picometres() for one in limits]
        lower = [NO_LOWER if low is None else low for low, _ in whole]
        upper = [NO_UPPER if high is None else high for _, high in whole]
        return cls(np.array(lower, np.int64), np.array(upper, np.int64))

    def at(self, points: Any) -> LimitArrays:
        """Give the limits that a slice or an array of places names."""
        return LimitArrays(self.lower_pm[points], self.upper_pm[points])

    def one(self, point: int) -> Limits:
        """Give the limits of one result, in mm."""
        lower, upper = int(self.lower_pm[point]), int(self.upper_pm[point])
        return Limits(
            None if lower < -_NONE_FROM else from_picometres(lower),
            None if upper > _NONE_FROM else from_picometres(upper),
        )


def refuse_far(values_pm: NDArray[Any], what: str, *, but: NDArray[np.bool_] | None = None) -> None:
    """Refuse values beyond 1 km, except those that stand for none; raises LimitTooFar."""
    import numpy as np

    if not len(values_pm) or -FARTHEST_PM <= values_pm.min() <= values_pm.max() <= FARTHEST_PM:
        return
    far = ~((values_pm >= -FARTHEST_PM) & (values_pm <= FARTHEST_PM))
    if but is not None:
        far &= ~but
    if far.any():
        point = int(np.argmax(far))
        raise LimitTooFar(what=what, found=values_pm[point].item(), point=point)


def _mm(value_pm: Any) -> Decimal:
    return from_picometres(int(value_pm))
