"""Procedures and limits that come with the program, as data to draft from. Nothing here is in force by itself."""

from __future__ import annotations

from importlib.resources import files
from typing import ClassVar

from instruments.procedures.content import Content, parse
from instruments.procedures.shipped.limits import (
    AsMade,
    NoStartingLimits,
    StartingLimits,
    caliper_limits,
    limits_for,
)
from labsys.errors import LabError

__all__ = [
    "AsMade",
    "NoShippedProcedure",
    "NoStartingLimits",
    "StartingLimits",
    "caliper",
    "caliper_limits",
    "families",
    "limits_for",
    "procedure",
]

_ENDING = ".json"


class NoShippedProcedure(LabError, LookupError):
    """No procedure ships for this family."""

    code: ClassVar[str] = "no-shipped-procedure"
    sentence: ClassVar[str] = (
        "Expected a family with a procedure that ships ({known}), found “{family}”. "
        "Draft from one of these, or from a file."
    )


def families() -> tuple[str, ...]:
    """List the codes of the families that a procedure ships for, in the order of the alphabet."""
    names = (entry.name for entry in files(__package__).iterdir())
    return tuple(sorted(name.removesuffix(_ENDING) for name in names if name.endswith(_ENDING)))


def procedure(code: str) -> Content:
    """Read the procedure that ships for a family; its starting values are marked as not confirmed in it.

    Raises NoShippedProcedure.
    """
    if code not in families():
        raise NoShippedProcedure(family=code, known=", ".join(families()))
    return parse(files(__package__).joinpath(code + _ENDING).read_text(encoding="utf-8"))


def caliper() -> Content:
    """Read the procedure for calipers that ships."""
    return procedure("caliper")
