"""Limits to start with, for every family that has a shipped procedure; every one of them *not confirmed*.

Lives here: what a laboratory may load before it has looked its own limits up. May not live here: limits in force
(they stand with the gauge's model, the gauge or the agreement).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from instruments.procedures.shipped.limits import angles, blocks, calipers, fixed, indicators, micrometers
from instruments.procedures.shipped.limits.calipers import caliper_limits
from instruments.procedures.shipped.limits.records import AsMade, NoStartingLimits, StartingLimits

__all__ = ["AsMade", "NoStartingLimits", "StartingLimits", "caliper_limits", "limits_for"]

_OF: dict[str, Callable[[AsMade], StartingLimits]] = {
    "caliper": calipers.of_caliper,
    "depth-gauge": calipers.of_depth_gauge,
    "height-gauge": calipers.of_height_gauge,
    "outside-micrometer": micrometers.of_outside,
    "depth-micrometer": micrometers.of_depth,
    "inside-micrometer": micrometers.of_inside,
    **{
        family: partial(indicators.of_indicator, family)
        for family in ("dial-indicator", "digital-indicator", "lever-indicator", "bore-gauge")
    },
    "gauge-block": blocks.of_blocks,
    "plain-plug": fixed.of_plug,
    "plain-ring": fixed.of_ring,
    "plain-pin": fixed.of_pin,
    "setting-ring": fixed.of_setting_ring,
    "checker-bar": fixed.of_bar,
    "thread-plug": fixed.of_thread_plug,
    "feeler": fixed.of_feeler,
    "radius-gauge": fixed.of_radius_gauge,
    "surface-plate": fixed.of_plate,
    "protractor": angles.of_protractor,
}


def limits_for(family: str, made: AsMade) -> StartingLimits:
    """Give limits to start with for a model of ``family`` that is made so; raises NoStartingLimits."""
    if family not in _OF:
        raise NoStartingLimits(what=f"the family “{family}”")
    return _OF[family](made)
