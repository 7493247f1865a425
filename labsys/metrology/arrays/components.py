"""The components of many budgets as arrays, points by rows, components by columns.

Lives here: their form, made from components and turned back into them. May not live here: adding up (budgets.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from labsys.errors import LabError
from labsys.metrology.components import Component, Distribution

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

ALONE: Final = -1
"""The group of a component that is correlated with no other."""


class ShapesDiffer(LabError, ValueError):
    """Arrays that should hold the same points, or the same components, and don't."""

    code = "shapes-differ"
    sentence = "Expected {name} of shape {expected}, found {found}. Give one row for every point."


@dataclass(frozen=True, slots=True, eq=False)
class ComponentArrays:
    """N points × M components; what ``Component`` holds, as arrays.

    ``sizes`` (N, M) are half-widths, standard or expanded uncertainties in any unit; ``divisors`` turn them into
    standard uncertainties; ``sensitivities`` are in mm per that unit, with their sign; ``nu`` degrees of freedom of
    one or more (infinite allowed); ``groups`` are whole numbers, −1 for a component that stands alone: those of one
    group whose sensitivities have the same sign count as fully correlated. All but ``sizes`` are of shape (M,), the
    same for every point, or (N, M). A size of zero adds nothing, so that shorter budgets are filled up with zeros.
    Raises ShapesDiffer.
    """

    sizes: NDArray[np.float64]
    divisors: NDArray[np.float64]
    sensitivities: NDArray[np.float64]
    nu: NDArray[np.float64]
    are_rectangular: NDArray[np.bool_]
    groups: NDArray[np.int64] | None = None

    def __post_init__(self) -> None:
        """Refuse arrays that don't belong together."""
        if self.sizes.ndim != 2:
            raise ShapesDiffer(name="sizes", expected="(points, components)", found=self.sizes.shape)
        for name in ("divisors", "sensitivities", "nu", "are_rectangular", "groups"):
            array = getattr(self, name)
            if array is not None and array.shape not in (self.sizes.shape, self.sizes.shape[1:]):
                raise ShapesDiffer(name=name, expected=self.sizes.shape, found=array.shape)

    @classmethod
    def of(cls, budgets: Sequence[Sequence[Component]]) -> ComponentArrays:
        """Make arrays of ``budgets``, one row each; shorter ones are filled up with components of size zero."""
        import numpy as np

        shape = (len(budgets), max((len(one) for one in budgets), default=0))
        sizes, ones = np.zeros(shape), np.ones(shape)
        found = cls(
            sizes, ones, ones.copy(), np.full(shape, np.inf), np.zeros(shape, bool), np.full(shape, ALONE)
        )
        numbers: dict[str | None, int] = {None: ALONE}
        for i, budget in enumerate(budgets):
            for j, one in enumerate(budget):
                found._put((i, j), one, numbers.setdefault(one.group, len(numbers) - 1))
        return found

    def _put(self, place: tuple[int, int], one: Component, group: int) -> None:
        self.sizes[place], self.divisors[place] = one.size, one.divided_by
        self.sensitivities[place], self.nu[place] = one.sensitivity, one.nu
        self.are_rectangular[place] = one.distribution is Distribution.RECTANGULAR
        if self.groups is not None:
            self.groups[place] = group

    def at(self, points: Any) -> ComponentArrays:
        """Give the rows that a slice or an array of places names."""
        chosen = (
            None if array is None else array if array.ndim == 1 else array[points] for array in self._arrays()
        )
        return ComponentArrays(*chosen)  # type: ignore[arg-type]

    def one_by_one(self, point: int, *, called: int | None = None) -> list[Component]:
        """Give the components of one row; raises BadComponent naming the point, by its number or as ``called``."""
        name = point if called is None else called
        return [self._component(point, column, name) for column in range(self.sizes.shape[1])]

    def _component(self, point: int, column: int, called: int) -> Component:
        cells: list[Any] = [
            None if array is None else array[column] if array.ndim == 1 else array[point, column]
            for array in self._arrays()
        ]
        size, divisor, sensitivity, nu, is_rectangular, group = cells
        return Component(
            name=f"{column} of point {called}",
            size=float(size),
            distribution=Distribution.RECTANGULAR if is_rectangular else Distribution.NORMAL,
            sensitivity=float(sensitivity),
            nu=float(nu),
            group=None if group is None or group == ALONE else str(group),
            divisor=float(divisor),
        )

    def _arrays(self) -> tuple[Any, ...]:
        return (
            self.sizes,
            self.divisors,
            self.sensitivities,
            self.nu,
            self.are_rectangular,
            self.groups,
        )
