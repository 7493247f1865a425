"""What is known about one point when its uncertainty is worked out.

Lives here: the facts of a point, as plain numbers. May not live here: how a procedure weighs them (specs).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TypeAlias

from labsys.metrology.components import BadComponent

Number: TypeAlias = Decimal | float


class Basis(StrEnum):
    """Where a reference's value comes from: its certificate, or nothing but the limit of its grade."""

    CALIBRATED = "calibrated"
    GRADE_LIMIT = "grade-limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceUncertainty:
    """What is known about one element the gauge was held against.

    ``certificate`` names the certificate (elements of one are correlated), ``label`` the element. With basis
    *calibrated* ``U_mm`` and ``k`` count (ν ``nu``), with *grade-limit* the half-width ``limit_mm``.
    ``sensitivity`` is ∂result/∂deviation with its sign (−1 for an indicating gauge), ``count`` how often the
    element was used in the point.
    """

    certificate: str
    label: str
    nominal_mm: Number
    basis: Basis = Basis.CALIBRATED
    U_mm: Number = 0.0
    k: Number = 2.0
    nu: Number = math.inf
    limit_mm: Number = 0.0
    sensitivity: Number = -1.0
    count: int = 1
    years_since_calibration: Number = 0.0

    @property
    def signed_sensitivity(self) -> float:
        """Give sensitivity times count."""
        return float(self.sensitivity) * self.count


@dataclass(frozen=True, slots=True)
class Repeatability:
    """A pooled standard deviation of one reading (mm) with its degrees of freedom."""

    s_mm: Number
    nu: Number

    def __post_init__(self) -> None:
        """Refuse what a comparison would silently pass over."""
        if not (math.isfinite(self.s_mm) and self.s_mm >= 0):
            raise BadComponent(
                name="repeatability", expected="a standard deviation of zero or more", found=self.s_mm
            )
        if not self.nu >= 1:
            raise BadComponent(name="repeatability", expected="at least one degree of freedom", found=self.nu)


@dataclass(frozen=True, slots=True, kw_only=True)
class PointInputs:
    """The facts of one point.

    ``reading_half_width_mm`` is half of what can be told apart: half a step, or half of the readable fraction
    of a division. ``zero_half_width_mm`` None: no zero was set. ``repeatability`` None: no study.
    ``alpha_mean_per_k`` is the mean expansion coefficient of gauge and standard (1/K), ``temperature_c`` the
    temperature both were at.
    """

    length_mm: Number
    reading_half_width_mm: Number
    alpha_mean_per_k: Number
    temperature_c: Number
    references: tuple[ReferenceUncertainty, ...] = ()
    joints: int = 0
    zero_half_width_mm: Number | None = None
    repeatability: Repeatability | None = None

    @property
    def are_faces_closed(self) -> bool:
        """Say whether the gauge was read on nothing but its own closed faces."""
        return not self.references and self.length_mm == 0

    @property
    def length(self) -> float:
        """Give the size of the length in mm, as a float for sensitivities."""
        return abs(float(self.length_mm))
