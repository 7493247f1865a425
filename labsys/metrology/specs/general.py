"""Kinds that name a size: constant, proportional to length, and the geometry of jaws and guides.

Lives here: half-widths a procedure states. May not live here: sizes that come with the point (standards.py,
reading.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.metrology.components import Component, Distribution
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs.base import CALIBRATION_ONLY, CommonSpec, Spec


@dataclass(frozen=True, kw_only=True)
class Constant(Spec):
    """The same at every length: half-width, or standard uncertainty where normal, ``size_mm``."""

    kind = "constant"
    size_mm: float
    distribution: Distribution = Distribution.RECTANGULAR
    nu: float = math.inf

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component of this size."""
        return (Component(self.name, self.size_mm, self.distribution, nu=self.nu, source=self.source),)


@dataclass(frozen=True, kw_only=True)
class Proportional(CommonSpec):
    """Grows with the length: ``size_per_mm`` (mm per mm), half-width or standard uncertainty."""

    kind = "proportional"
    size_per_mm: float
    distribution: Distribution = Distribution.RECTANGULAR
    nu: float = math.inf

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component of size times length."""
        return (
            Component(
                self.name,
                self.size_per_mm,
                self.distribution,
                size_unit="mm/mm",
                sensitivity=inputs.length,
                nu=self.nu,
                source=self.source,
            ),
        )


@dataclass(frozen=True, kw_only=True)
class Geometry(Spec):
    """Contact, parallelism, force and other effects of the jaws: ± ``half_width_mm``."""

    kind = "geometry"
    usual_views = CALIBRATION_ONLY
    half_width_mm: float

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one rectangular component."""
        return (Component(self.name, self.half_width_mm, source=self.source),)


@dataclass(frozen=True, kw_only=True)
class Abbe(Spec):
    """The point lies ``offset_mm`` beside the scale and the slider tilts by ± ``tilt_half_width_rad``: offset
    times tilt.
    """

    kind = "abbe"
    usual_views = CALIBRATION_ONLY
    offset_mm: float
    tilt_half_width_rad: float

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one rectangular component."""
        tilt, offset = self.tilt_half_width_rad, self.offset_mm
        return (Component(self.name, tilt, size_unit="rad", sensitivity=offset, source=self.source),)
