"""Who may change the laboratory's own facts."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

MANAGE_LABORATORY = permission(
    "manage_laboratory", "Change departments, places, agreements, capacity", Role.MANAGER, Role.ADMINISTRATOR
)
