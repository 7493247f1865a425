"""Who may add to a thermometer's log. Reading it is reading records."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

LOG_ROOM = permission(
    "log_room", "Add readings of the room to a thermometer's log", Role.MANAGER, Role.TECHNICIAN
)
