"""Kinds that come from the standards used: their value, their drift, the joints between wrung blocks.

Lives here: what a point's references add. May not live here: which standards may be used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.metrology.components import Component, Distribution
from labsys.metrology.inputs import Basis, PointInputs, ReferenceUncertainty
from labsys.metrology.specs.base import Spec, less, turned


@dataclass(frozen=True, kw_only=True)
class ElementSpec(Spec):
    """An effect that every element has one of, in the order of the references."""

    def difference(self, high: PointInputs, low: PointInputs) -> tuple[Component, ...]:
        """Make the components of a difference: an element in both readings has one value, the others their own."""
        left = list(zip(map(_element, low.references), self.components(low), strict=True))
        found = []
        for reference, component in zip(high.references, self.components(high), strict=True):
            place = next((n for n, (key, _other) in enumerate(left) if key == _element(reference)), None)
            found.append(component if place is None else less(component, left.pop(place)[1]))
        return (*found, *(turned(other) for _key, other in left))


@dataclass(frozen=True, kw_only=True)
class StandardValue(ElementSpec):
    """The value of the standard: U/k of its certificate, or the limit of its grade as a half-width.

    Calibrated elements of one certificate share a group (r = 1 where their sensitivities have the same sign);
    the deviations of elements taken at a grade limit are independent of each other.
    """

    kind = "standard"

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component for each element."""
        return tuple(self._of(reference, inputs) for reference in inputs.references)

    def _of(self, reference: ReferenceUncertainty, inputs: PointInputs) -> Component:
        calibrated = reference.basis is Basis.CALIBRATED
        return Component(
            _named(self.name, reference, inputs),
            float(reference.U_mm if calibrated else reference.limit_mm),
            Distribution.NORMAL if calibrated else Distribution.RECTANGULAR,
            sensitivity=reference.signed_sensitivity,
            nu=float(reference.nu) if calibrated else math.inf,
            source=self.source or f"{reference.basis.value.replace('-', ' ')}, {reference.certificate}",
            group=reference.certificate if calibrated else None,
            divisor=float(reference.k) if calibrated else None,
        )


@dataclass(frozen=True, kw_only=True)
class Drift(ElementSpec):
    """Change of the standard since its calibration: half-width (a + b·N)·years for each element of nominal N.

    ``constant_mm_per_year`` is a, ``per_mm_per_year`` is b (mm per mm and year). Elements of one certificate,
    of one make and age, are taken to drift together.
    """

    kind = "drift"
    constant_mm_per_year: float = 0.0
    per_mm_per_year: float = 0.0

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component for each element."""
        return tuple(
            Component(
                _named(self.name, reference, inputs),
                self._half_width(reference),
                sensitivity=reference.signed_sensitivity,
                source=self.source,
                group=f"{reference.certificate}, drift",
            )
            for reference in inputs.references
        )

    def _half_width(self, reference: ReferenceUncertainty) -> float:
        yearly = self.constant_mm_per_year + self.per_mm_per_year * abs(float(reference.nominal_mm))
        return yearly * float(reference.years_since_calibration)


@dataclass(frozen=True, kw_only=True)
class Wringing(Spec):
    """Film between wrung blocks: half-width ``half_width_mm`` for each joint, joints independent."""

    kind = "wringing"
    half_width_mm: float

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component for all joints: rectangular for one, for several their root sum of squares."""
        if inputs.joints < 1:
            return ()
        if inputs.joints == 1:
            return (Component(self.name, self.half_width_mm, source=self.source),)
        u_mm = self.half_width_mm / math.sqrt(3.0)
        several = math.sqrt(inputs.joints)
        return (Component(self.name, u_mm, Distribution.NORMAL, sensitivity=several, source=self.source),)


def _named(name: str, reference: ReferenceUncertainty, inputs: PointInputs) -> str:
    """Name a component after its element where there are several."""
    return name if len(inputs.references) == 1 else f"{name}, {reference.label}"


def _element(reference: ReferenceUncertainty) -> tuple[str, str]:
    """Name an element. One that serves every length is the same at two of them: how its error changes along its travel
    is a component of the procedure's own (proportional to the length).
    """
    return reference.certificate, reference.label
