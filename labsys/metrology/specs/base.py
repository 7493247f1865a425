"""What every kind of uncertainty component has.

Lives here: the abstract Spec. May not live here: any kind.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass, replace
from typing import ClassVar

from labsys.metrology.components import Component
from labsys.metrology.inputs import PointInputs
from labsys.metrology.views import View

BOTH_VIEWS = frozenset(View)
CALIBRATION_ONLY = frozenset({View.CALIBRATION})


@dataclass(frozen=True, kw_only=True)
class Spec(ABC):
    """What every kind has; ``usual_views`` hold unless ``views`` says otherwise."""

    kind: ClassVar[str]
    usual_views: ClassVar[frozenset[View]] = BOTH_VIEWS

    name: str
    source: str = ""
    views: frozenset[View] | None = None

    @property
    def enters(self) -> frozenset[View]:
        """Give the budgets this component enters."""
        return self.usual_views if self.views is None else self.views

    @abstractmethod
    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make the components of one point; none where the effect isn't there. Raises BadComponent."""

    def difference(self, high: PointInputs, low: PointInputs) -> tuple[Component, ...]:
        """Make the components of the error at ``high`` less that at ``low``: each has its own. Raises BadComponent."""
        return (*self.components(high), *(turned(one) for one in self.components(low)))


@dataclass(frozen=True, kw_only=True)
class CommonSpec(Spec):
    """An effect that two readings of one gauge have in common: one input quantity with two sensitivities."""

    def difference(self, high: PointInputs, low: PointInputs) -> tuple[Component, ...]:
        """Make the components of a difference: the same inputs, with the difference of their sensitivities.

        Where one reading lacks the effect, or has another size of it, each has its own.
        """
        ones, others = self.components(high), self.components(low)
        if len(ones) != len(others) or any(
            one.standard_uncertainty != other.standard_uncertainty
            for one, other in zip(ones, others, strict=True)
        ):
            return super().difference(high, low)
        return tuple(less(one, other) for one, other in zip(ones, others, strict=True))


def turned(component: Component) -> Component:
    """Give a component as it enters with the other sign."""
    return replace(component, sensitivity=-component.sensitivity)


def less(one: Component, other: Component) -> Component:
    """Give one component less another of the same input quantity."""
    return replace(one, sensitivity=one.sensitivity - other.sensitivity)
