"""Kinds worked out from geometry: faces out of parallel, a line of measurement askew, edges that don't meet.

Lives here: effects that follow from a shape. May not live here: a size a procedure just states (general.py); how faces
flatten under force, for which no formula with a published check value is at hand: state it as a ``Geometry``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.metrology.components import BadComponent, Component, Distribution
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs.base import CALIBRATION_ONLY, Spec

UNCORRECTED = 1 / (2 * math.sqrt(5.0))
"""Root of the mean of (x²/2)² for x rectangular within ±1: mean 1/6 and standard deviation 1/√45 together."""


@dataclass(frozen=True, kw_only=True)
class Parallelism(Spec):
    """Faces accepted with readings up to ``spread_mm`` apart from one place to another: ± half of it, rectangular."""

    kind = "parallelism"
    usual_views = CALIBRATION_ONLY
    spread_mm: float

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one rectangular component."""
        return (Component(self.name, self.spread_mm / 2, source=self.source),)


@dataclass(frozen=True, kw_only=True)
class Alignment(Spec):
    """The line of measurement stands askew by up to ± ``half_width_rad`` to the length: L·(1 − cos θ) ≈ L·θ²/2.

    The effect has one sign and isn't corrected, so its mean L·a²/6 counts beside its spread L·a²/√45: together
    L·a²/(2·√5), rectangular θ in one plane (JCGM 100:2008, F.2.4.4 and F.2.4.5, from memory). Up to 0.1 rad.
    """

    kind = "alignment"
    usual_views = CALIBRATION_ONLY
    half_width_rad: float

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component of second order; raises BadComponent beyond 0.1 rad, where the formula ends."""
        return (_askew(self, self.half_width_rad, inputs.length),)


@dataclass(frozen=True, kw_only=True)
class Contact(Spec):
    """Inside edges that touch up to ± ``apart_mm`` beside each other, so that a bore D is read along a chord.

    √(D² − t²) − D ≈ −t²/(2·D), with one sign and not corrected, as in ``Alignment``: t²/(2·√5·D).
    """

    kind = "contact"
    usual_views = CALIBRATION_ONLY
    apart_mm: float

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component of second order; none on closed faces. Raises BadComponent beyond a tenth of D."""
        if inputs.length == 0:
            return ()
        return (_askew(self, self.apart_mm / inputs.length, inputs.length),)


def _askew(spec: Spec, half_width_rad: float, length_mm: float) -> Component:
    if not half_width_rad <= 0.1:
        raise BadComponent(name=spec.name, expected="an angle of at most 0.1 rad", found=half_width_rad)
    return Component(
        spec.name,
        half_width_rad**2 * UNCORRECTED,
        Distribution.PRODUCT,
        size_unit="rad²",
        sensitivity=length_mm,
        source=spec.source,
    )
