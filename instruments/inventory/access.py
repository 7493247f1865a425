"""Who may change the inventory, its limits, and the record of where a gauge is."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

MANAGE_GAUGES = permission(
    "manage_gauges", "Register and change gauges, models and sets", Role.MANAGER, Role.TECHNICIAN
)
SET_LIMITS = permission("set_limits", "Set the limits of models and gauges", Role.MANAGER, Role.REVIEWER)
RECORD_CUSTODY = permission(
    "record_custody", "Record where a gauge is", Role.MANAGER, Role.TECHNICIAN, Role.REVIEWER, Role.FLOOR
)
