"""What every kind of uncertainty component has.

Lives here: the abstract Spec. May not live here: any kind.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
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
