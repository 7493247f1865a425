"""Who may register standards, keep their state, and accept the values that a calibration gave them."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

MANAGE_STANDARDS = permission("manage_standards", "Register standards and their elements", Role.MANAGER)
KEEP_STANDARDS = permission(
    "keep_standards",
    "Record calibrations of standards and change their service state",
    Role.MANAGER,
    Role.TECHNICIAN,
    Role.REVIEWER,
)
ACCEPT_CALIBRATIONS = permission(
    "accept_calibrations", "Accept or reject calibrations of standards", Role.MANAGER, Role.REVIEWER
)
