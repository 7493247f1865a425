"""Procedures and limits that come with the program, as data to draft from. Nothing here is in force by itself."""

from __future__ import annotations

from importlib.resources import files

from instruments.procedures.content import Content, parse
from instruments.procedures.shipped.limits import NoStartingLimits, StartingLimits, caliper_limits

__all__ = ["NoStartingLimits", "StartingLimits", "caliper", "caliper_limits"]


def caliper() -> Content:
    """Read the procedure for calipers that ships; its starting values are marked as not confirmed in it."""
    return parse(files(__package__).joinpath("caliper.json").read_text(encoding="utf-8"))
