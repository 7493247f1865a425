"""Roles made of permissions, and the check that every act makes first. Each topic declares its permissions in its
``access.py``; here they are gathered.

A permission is declared once with the roles that hold it; after every migration the declared set is written to the
database, so that a role can be inspected and, where a laboratory wants it, widened there.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting


class Role(StrEnum):
    """The people of a laboratory, by what they do."""

    MANAGER = "manager"
    TECHNICIAN = "technician"
    REVIEWER = "reviewer"
    FLOOR = "floor"
    AUDITOR = "auditor"
    ADMINISTRATOR = "administrator"


EVERYBODY = tuple(Role)


@dataclass(frozen=True)
class Permission:
    """Something a role may do."""

    codename: str
    name: str
    roles: tuple[Role, ...]


declared: dict[str, Permission] = {}


def permission(codename: str, name: str, *roles: Role) -> str:
    """Declare a permission held by ``roles`` and give its full name, as ``Person.has_perm`` wants it."""
    existing = declared.get(codename)
    wanted = Permission(codename, name, roles)
    if existing is not None and existing != wanted:
        raise ValueError(f"The permission {codename} is declared twice, differently.")
    declared[codename] = wanted
    return f"labsys.{codename}"


class NotAllowed(LabError, PermissionError):
    """The role doesn't hold the permission."""

    code: ClassVar[str] = "not-allowed"
    sentence: ClassVar[str] = (
        "{name} may not do this: it needs the permission “{permission}”. Ask the laboratory manager."
    )


def require(by: Acting, wanted: str) -> None:
    """Refuse unless ``by`` holds the permission; raises NotAllowed. A job may do what jobs do."""
    if not by.may(wanted):
        known = declared.get(wanted.removeprefix("labsys."))
        raise NotAllowed(name=by.as_actor().name, permission=known.name.lower() if known else wanted)
