"""The angle a sine bar stands at, and how well it is known.

Lives here: from the height of the blocks and the distance of the rollers to an angle, and back. May not live here: the
blocks themselves (stacks).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.errors import LabError

ARC_SECONDS = 3600 * 180 / math.pi
"""Arc seconds in a radian."""
STEEPEST = 60.0
"""Beyond this angle, in degrees, the height says little about the angle and a sine bar isn't used (common practice)."""


class NoSineBar(LabError, ValueError):
    """A height that no sine bar of this length stands at."""

    code = "no-sine-bar"
    sentence = "Expected a height above 0 and below the {length} mm between the rollers, found {found} mm. Check both."


@dataclass(frozen=True, slots=True)
class SineBar:
    """An angle in degrees with its standard uncertainty in arc seconds, and what height and length add to it.

    ``by_height`` and ``by_length`` are sensitivities in arc seconds for each micrometre.
    """

    angle: float
    u_seconds: float
    by_height: float
    by_length: float

    @property
    def is_steep(self) -> bool:
        """Say whether the angle is steeper than a sine bar is used for."""
        return self.angle > STEEPEST


def sine_bar(
    height_mm: float, length_mm: float, *, u_height_mm: float = 0.0, u_length_mm: float = 0.0
) -> SineBar:
    """Give θ = asin(h/l) and u(θ) of first order, with ∂θ/∂h = 1/(l·cos θ) and ∂θ/∂l = −tan θ/l.

    Height and length are taken as uncorrelated (JCGM 100:2008, 5.1.2). Raises NoSineBar.
    """
    if not (math.isfinite(height_mm) and math.isfinite(length_mm) and 0 < height_mm < length_mm):
        raise NoSineBar(length=length_mm, found=height_mm)
    angle = math.asin(height_mm / length_mm)
    by_height = ARC_SECONDS / (length_mm * math.cos(angle))
    by_length = -ARC_SECONDS * math.tan(angle) / length_mm
    u_seconds = math.hypot(by_height * u_height_mm, by_length * u_length_mm)
    return SineBar(math.degrees(angle), u_seconds, by_height / 1000, by_length / 1000)


def height_for(angle: float, length_mm: float) -> float:
    """Give the height in mm that sets a sine bar to ``angle`` degrees, above 0 and below 90; raises NoSineBar."""
    height = length_mm * math.sin(math.radians(angle))
    if not 0 < angle < 90:
        raise NoSineBar(length=length_mm, found=height)
    return height
