"""Replacing a standard's component in the budgets that rest on it, and what U becomes, level by level.

Lives here: which budgets are reached, and their new U. May not live here: how budgets are combined (arrays).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final

from labsys.metrology.arrays import ComponentArrays, UncertaintyArrays, combine_many
from labsys.metrology.reevaluation.ordering import Level
from labsys.metrology.reevaluation.tables import (
    NO_COLUMN,
    BadReevaluation,
    ChangeArrays,
    ResultArrays,
    UseArrays,
    expect_between,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_NAMES: Final = tuple(field.name for field in fields(UncertaintyArrays))


def replace_uncertainties(
    results: ResultArrays, levels: Sequence[Level], uses: UseArrays, changes: ChangeArrays
) -> tuple[UncertaintyArrays, NDArray[np.bool_]]:
    """Give the uncertainties with new standards' u in their budgets, and which of them changed.

    The component in a use's column takes the new standard uncertainty (mm, normal, with its ν); sensitivity and group
    stay. It counts for uses since the standard was last known good. A result whose own U changed passes its u on, its
    component's ν stays. Budgets are combined as ``budget.combine`` does; raises what that raises, and
    BadReevaluation.
    """
    import numpy as np

    changed = np.zeros(len(results.values_pm), bool)
    nothing_new = changes.u_mm is None or not bool((changes.u_mm >= 0).any())
    if nothing_new or uses.columns is None or results.components is None:
        return results.uncertainty, changed
    expect_between(uses.columns, NO_COLUMN, results.components.sizes.shape[1], "components")
    work = _Work(results, results.components, uses, changes)
    for level in levels:
        work.do(np.arange(level.count) if level.order is None else level.order, changed)
    return work.after, changed


class _Work:
    """Budgets with their replaced components, and the uncertainties so far."""

    def __init__(
        self, results: ResultArrays, components: ComponentArrays, uses: UseArrays, changes: ChangeArrays
    ) -> None:
        import numpy as np

        self.results, self.uses, self.changes = results, uses, changes
        self.components = _spread_out(components)
        self.after = UncertaintyArrays(**{name: getattr(results.uncertainty, name).copy() for name in _NAMES})
        place = np.minimum(uses.sources, len(changes.deltas_pm) - 1)
        self.of_change = uses.sources < len(changes.deltas_pm)
        self.u_mm = np.where(self.of_change, _of(changes.u_mm, place), -1.0)
        self.nu = np.where(self.of_change, np.inf if changes.nu is None else _of(changes.nu, place), np.inf)
        # A use before the last good calibration rests on what was known then.
        self.u_mm[results.days[uses.results] < _of(changes.good_days, place)] = -1.0

    def do(self, chosen: NDArray[np.int64], changed: NDArray[np.bool_]) -> None:
        """Replace in the budgets of one level and combine those again."""
        import numpy as np

        columns = self.uses.columns
        if columns is None:
            return
        of_result = ~self.of_change[chosen]
        behind = np.where(of_result, self.uses.sources[chosen] - len(self.changes.deltas_pm), 0)
        u = np.where(of_result, np.where(changed[behind], self.after.u_mm[behind], -1.0), self.u_mm[chosen])
        counts = (u >= 0) & (columns[chosen] != NO_COLUMN)
        chosen, u, of_result = chosen[counts], u[counts], of_result[counts]
        if not len(chosen):
            return
        cells = self.uses.results[chosen], columns[chosen]
        self._refuse_twice(cells)
        self.components.sizes[cells], self.components.divisors[cells] = u, 1.0
        self.components.are_rectangular[cells] = False
        self.components.nu[cells] = np.where(of_result, self.components.nu[cells], self.nu[chosen])
        self._combine(np.unique(cells[0]), changed)

    def _combine(self, rows: NDArray[np.int64], changed: NDArray[np.bool_]) -> None:
        again = combine_many(
            self.components.at(rows),
            probability=self.results.probability,
            freedom_rule=self.results.freedom_rule,
        )
        for name in _NAMES:
            getattr(self.after, name)[rows] = getattr(again.uncertainty, name)
        changed[rows] = True

    def _refuse_twice(self, cells: tuple[NDArray[np.int64], NDArray[np.int64]]) -> None:
        import numpy as np

        flat = cells[0] * self.components.sizes.shape[1] + cells[1]
        if len(np.unique(flat)) != len(flat):
            raise BadReevaluation(
                what="components",
                expected="one component for each standard used",
                found="two uses with one between them",
            )


def _spread_out(components: ComponentArrays) -> ComponentArrays:
    """Copy, with every array as large as the sizes, so that single cells can be replaced."""
    import numpy as np

    shape = components.sizes.shape
    spread: dict[str, Any] = {
        field.name: None
        if (one := getattr(components, field.name)) is None
        else np.broadcast_to(one, shape).copy()
        for field in fields(ComponentArrays)
    }
    return ComponentArrays(**spread)


def _of(
    array: NDArray[np.float64] | NDArray[np.int64] | None, place: NDArray[np.int64]
) -> NDArray[np.float64]:
    import numpy as np

    return np.asarray(-1.0 if array is None else array[place], dtype=np.float64)
