"""Stored results, the uses they made of standards, and the changes of these, as plain records.

Lives here: their form, and arrays made of them. May not live here: where they are stored, arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError
from labsys.metrology.components import Component
from labsys.metrology.conformance import Spread
from labsys.metrology.error import to_picometres
from labsys.metrology.exact import EXACT, finite
from labsys.metrology.limits import Limits
from labsys.metrology.reevaluation.tables import NO_COLUMN, NO_DAY, ChangeArrays, UseArrays, expect
from labsys.metrology.rules import Rule

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LARGEST_FACTOR: Final = 10**6
"""Largest sensitivity times count that a result can have."""


class NameTaken(LabError, ValueError):
    """Two records of a re-evaluation under one name."""

    code = "name-taken"
    sentence = "Expected every result and every changed standard under its own name, found “{name}” twice."


class WrongComponent(LabError, ValueError):
    """A use that names a component which isn't there, or isn't in mm."""

    code = "wrong-component"
    sentence = "Result “{name}”: expected {expected} as the standard's component, found {found}."


@dataclass(frozen=True, slots=True)
class Use:
    """A standard's value that a result rests on, by its name: a changed standard's, or a result's that became one.

    ``sensitivity`` is ∂result/∂deviation of one, ``count`` how many there were; to nine decimals. ``component`` is the
    place of the standard's component in the result's budget, None: U isn't recomputed.
    """

    source: str
    sensitivity: Decimal = Decimal(-1)
    count: int = 1
    component: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredResult:
    """A result as issued: its value (mm) with the day of measurement, what it rests on, and how it was judged.

    ``U_mm`` is the uncertainty that the ``rule`` names, ``spread`` the standard one behind it with its shape; without
    a rule or limits there is no verdict. ``components`` are needed only where a standard's new U counts.
    """

    name: str
    value_mm: Decimal
    measured_on: date
    uses: tuple[Use, ...] = ()
    limits: Limits = Limits(None, None)
    rule: Rule | None = None
    U_mm: float = 0.0
    spread: Spread = Spread(0.0)
    components: tuple[Component, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A standard's value that was used and the one accepted now (mm: sizes or deviations, both alike).

    ``last_good_on`` None: nobody knows. ``u_mm`` is the new standard uncertainty with its ``nu``, None where the old
    one stays.
    """

    source: str
    used_mm: Decimal
    new_mm: Decimal
    found_on: date
    last_good_on: date | None = None
    u_mm: float | None = None
    nu: float = math.inf

    @property
    def delta_pm(self) -> int:
        """Give Δ, new minus used, in whole picometres; raises NotANumber."""
        return to_picometres(self.new_mm) - to_picometres(self.used_mm)


def places_of(results: Sequence[StoredResult], changes: Sequence[Change]) -> dict[str, int]:
    """Number the changes, then the results, by name; raises NameTaken."""
    places: dict[str, int] = {}
    for place, name in enumerate([*(one.source for one in changes), *(one.name for one in results)]):
        if places.setdefault(name, place) != place:
            raise NameTaken(name=name)
    return places


def change_arrays(changes: Sequence[Change]) -> ChangeArrays:
    """Make arrays of changes; raises BadReevaluation, ChangeTooLarge, NotANumber."""
    import numpy as np

    good = [NO_DAY if one.last_good_on is None else one.last_good_on.toordinal() for one in changes]
    u = [-1.0 if one.u_mm is None else Spread(one.u_mm).u_mm for one in changes]
    return ChangeArrays(
        _whole([one.delta_pm for one in changes]),
        _whole(good),
        _whole([one.found_on.toordinal() for one in changes]),
        np.array(u),
        np.array([one.nu for one in changes]),
    )


def use_arrays(results: Sequence[StoredResult], places: Mapping[str, int]) -> UseArrays:
    """Make arrays of the uses that changes can reach; a use of any other standard moves nothing.

    Raises WrongComponent, BadReevaluation.
    """
    found = [
        (number, places[use.source], *_factor(use), _column(result, use))
        for number, result in enumerate(results)
        for use in result.uses
        if use.source in places
    ]
    numbers, sources, whole, parts, columns = (
        [list(one) for one in zip(*found, strict=True)] if found else [[], [], [], [], []]
    )
    billionths = _whole(parts) if any(parts) else None
    return UseArrays(_whole(numbers), _whole(sources), _whole(whole), billionths, _whole(columns))


def _factor(use: Use) -> tuple[int, int]:
    """Give sensitivity times count as a whole number and billionths."""
    with localcontext(EXACT):
        product = finite(use.sensitivity) * use.count
        expect(abs(product) <= LARGEST_FACTOR, "sensitivities", f"{LARGEST_FACTOR} or less", product)
        billionths = int(product.scaleb(9).to_integral_value(ROUND_HALF_EVEN))
    return divmod(billionths, 10**9)


def _column(result: StoredResult, use: Use) -> int:
    if use.component is None:
        return NO_COLUMN
    if not 0 <= use.component < len(result.components):
        raise WrongComponent(
            name=result.name, expected=f"one of {len(result.components)}", found=use.component
        )
    unit = result.components[use.component].size_unit
    if unit != "mm":
        raise WrongComponent(name=result.name, expected="a size in mm", found=unit)
    return use.component


def _whole(values: Sequence[int]) -> NDArray[np.int64]:
    import numpy as np

    return np.array(values, np.int64)
