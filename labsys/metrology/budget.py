"""Adding the components of one result up: combined and expanded uncertainty, and each component's share.

Lives here: ``combine`` and the Budget it gives, with its stored form. May not live here: where components come
from (specs).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from labsys.errors import LabError
from labsys.metrology.components import Component, Distribution
from labsys.metrology.coverage import (
    DEFAULT_PROBABILITY,
    Coverage,
    FreedomRule,
    NoSpread,
    Part,
    Shape,
    cover,
    student_factor,
)


class NothingToCombine(LabError, ValueError):
    """A budget without components."""

    code = "nothing-to-combine"
    sentence = (
        "Expected at least one uncertainty component{where}, found none. Add the components in the procedure."
    )


class BudgetUnreadable(LabError, ValueError):
    """A stored budget that lacks a field or holds one that can't be read."""

    code = "budget-unreadable"
    sentence = (
        "Expected a stored budget with every field, found a fault at “{place}”. Restore the record from a "
        "backup."
    )


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a budget: the component, |c|·u(x) in mm, its share of the variance (shares add up to 1)."""

    component: Component
    contribution_mm: float
    share: float


@dataclass(frozen=True, slots=True)
class Budget:
    """A combined result: ``u_mm`` standard, ``U_mm`` = k·u expanded uncertainty, both in mm.

    ``nu_eff`` are the effective degrees of freedom as calculated, ``nu_used`` after the rule named in ``freedom_rule``;
    ``beta`` is set for the trapezoidal shape only.
    """

    rows: tuple[Row, ...]
    u_mm: float
    nu_eff: float
    nu_used: float
    k: float
    shape: Shape
    beta: float | None
    probability: float
    freedom_rule: FreedomRule
    U_mm: float

    def to_json(self) -> dict[str, Any]:
        """Give plain dicts, lists and strings; every float as the shortest text that reads back exactly."""
        return {
            "rows": [_row_to_json(row) for row in self.rows],
            "u_mm": repr(self.u_mm),
            "nu_eff": repr(self.nu_eff),
            "nu_used": repr(self.nu_used),
            "k": repr(self.k),
            "shape": self.shape.value,
            "beta": None if self.beta is None else repr(self.beta),
            "probability": repr(self.probability),
            "freedom_rule": self.freedom_rule.value,
            "U_mm": repr(self.U_mm),
        }

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Budget:
        """Read what ``to_json`` gave; raises BudgetUnreadable naming the place."""
        try:
            return cls(
                rows=tuple(_row_from_json(row) for row in stored["rows"]),
                shape=Shape(stored["shape"]),
                beta=None if stored["beta"] is None else float(stored["beta"]),
                freedom_rule=FreedomRule(stored["freedom_rule"]),
                **{name: float(stored[name]) for name in _NUMBERS},
            )
        except (KeyError, TypeError, ValueError) as fault:
            raise BudgetUnreadable(place=str(fault)) from fault


_NUMBERS = ("u_mm", "nu_eff", "nu_used", "k", "probability", "U_mm")


def combine(
    components: Sequence[Component],
    *,
    probability: float = DEFAULT_PROBABILITY,
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE,
    where: str = "",
) -> Budget:
    """Combine ``components`` by the law of propagation, first order (JCGM 100:2008, 5.1.2, 5.2.2), and expand.

    Components of one group whose sensitivities have the same sign are fully correlated and add linearly, with the
    fewest degrees of freedom among them. ``where`` names the budget in errors. Raises NothingToCombine, NoSpread.
    """
    place = f" for {where}" if where else ""
    if not components:
        raise NothingToCombine(where=place)
    bundles = _bundles(components)
    parts = [_part(bundle) for bundle in bundles]
    variance = math.fsum(part.u_mm**2 for part in parts)
    if variance == 0:
        raise NoSpread(where=place)
    coverage = cover(parts, probability=probability, freedom_rule=freedom_rule)
    rows = _rows(components, bundles, parts, variance)
    return _budget(rows, math.sqrt(variance), coverage, probability, freedom_rule)


def exact(
    components: Sequence[Component],
    *,
    probability: float = DEFAULT_PROBABILITY,
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE,
) -> Budget:
    """Give a budget of U = 0 for what is exact by definition, such as the length of closed faces."""
    rows = tuple(Row(component, 0.0, 0.0) for component in components)
    k = student_factor(probability, math.inf)
    return _budget(
        rows, 0.0, Coverage(k, Shape.NORMAL_OR_T, None, math.inf, math.inf), probability, freedom_rule
    )


def _budget(
    rows: tuple[Row, ...], u_mm: float, coverage: Coverage, probability: float, freedom_rule: FreedomRule
) -> Budget:
    return Budget(
        rows=rows,
        u_mm=u_mm,
        nu_eff=coverage.nu_eff,
        nu_used=coverage.nu_used,
        k=coverage.k,
        shape=coverage.shape,
        beta=coverage.beta,
        probability=probability,
        freedom_rule=freedom_rule,
        U_mm=coverage.k * u_mm,
    )


def _bundle_key(place: int, component: Component) -> tuple[object, ...]:
    if component.group is None:
        return (place,)
    return (component.group, component.sensitivity < 0)


def _bundles(components: Sequence[Component]) -> list[list[Component]]:
    bundles: dict[tuple[object, ...], list[Component]] = {}
    for place, component in enumerate(components):
        bundles.setdefault(_bundle_key(place, component), []).append(component)
    return list(bundles.values())


def _part(bundle: Sequence[Component]) -> Part:
    contributions = [component.contribution_mm for component in bundle]
    spread = [one for one, contribution in zip(bundle, contributions, strict=True) if contribution > 0]
    return Part(
        u_mm=math.fsum(contributions),
        is_rectangular=bool(spread) and all(one.distribution is Distribution.RECTANGULAR for one in spread),
        nu=min((component.nu for component in spread), default=math.inf),
    )


def _rows(
    components: Sequence[Component],
    bundles: Sequence[Sequence[Component]],
    parts: Sequence[Part],
    variance: float,
) -> tuple[Row, ...]:
    """Keep the order given; a correlated component's share is its part of the linear sum's square."""
    sums = {id(one): part.u_mm for bundle, part in zip(bundles, parts, strict=True) for one in bundle}
    rows = []
    for one in components:
        contribution = one.contribution_mm
        rows.append(Row(one, contribution, contribution * sums[id(one)] / variance))
    return tuple(rows)


def _row_to_json(row: Row) -> dict[str, Any]:
    component = row.component
    # Written for trapezoids only: what was stored before there were any keeps its form.
    beta = {} if component.beta is None else {"beta": repr(component.beta)}
    return {
        "name": component.name,
        "size": repr(component.size),
        "distribution": component.distribution.value,
        "size_unit": component.size_unit,
        "sensitivity": repr(component.sensitivity),
        "nu": repr(component.nu),
        "source": component.source,
        "group": component.group,
        "divisor": None if component.divisor is None else repr(component.divisor),
        **beta,
        "contribution_mm": repr(row.contribution_mm),
        "share": repr(row.share),
    }


def _row_from_json(stored: Mapping[str, Any]) -> Row:
    component = Component(
        name=stored["name"],
        size=float(stored["size"]),
        distribution=Distribution(stored["distribution"]),
        size_unit=stored["size_unit"],
        sensitivity=float(stored["sensitivity"]),
        nu=float(stored["nu"]),
        source=stored["source"],
        group=stored["group"],
        divisor=None if stored["divisor"] is None else float(stored["divisor"]),
        beta=float(stored["beta"]) if "beta" in stored else None,
    )
    return Row(component, float(stored["contribution_mm"]), float(stored["share"]))
