"""Kinds that come from temperature: gauge and standard not alike, neither in temperature nor in expansion.

Lives here: what is carried in U. May not live here: corrections of the error (error.py, temperature.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.metrology.components import Component, Distribution
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs.base import CommonSpec

REFERENCE_TEMPERATURE_C = 20.0


@dataclass(frozen=True, kw_only=True)
class TemperatureDifference(CommonSpec):
    """Gauge and standard at different temperatures: ± ``half_width_k`` (K), sensitivity L·ᾱ."""

    kind = "temperature_difference"
    half_width_k: float

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one rectangular component."""
        per_kelvin = inputs.length * float(inputs.alpha_mean_per_k)
        return (
            Component(
                self.name, self.half_width_k, size_unit="K", sensitivity=per_kelvin, source=self.source
            ),
        )


@dataclass(frozen=True, kw_only=True)
class ExpansionDifference(CommonSpec):
    """Different expansion coefficients: L·u(δα)·√((t − 20)² + u²(t)), the second-order term included.

    ``half_width_per_k`` is the half-width of δα (1/K): triangular where both coefficients are known equally
    well, ± their sum. ``temperature_half_width_k`` is how well the temperature itself is known (K,
    rectangular).
    """

    kind = "expansion_difference"
    half_width_per_k: float
    temperature_half_width_k: float
    distribution: Distribution = Distribution.TRIANGULAR

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component of two inputs."""
        u_alpha = Component(self.name, self.half_width_per_k, self.distribution).standard_uncertainty
        u_t = Component(self.name, self.temperature_half_width_k).standard_uncertainty
        kelvins = math.hypot(float(inputs.temperature_c) - REFERENCE_TEMPERATURE_C, u_t)
        return (
            Component(
                self.name,
                u_alpha,
                Distribution.PRODUCT,
                size_unit="1/K",
                sensitivity=inputs.length * kelvins,
                source=self.source,
            ),
        )
