"""Who may sign certificates off, and who may vouch for a series of numbers after a restore."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

SIGN_CERTIFICATES = permission("sign_certificates", "Authorise certificates with a signature", Role.REVIEWER)
CONFIRM_NUMBERS = permission(
    "confirm_numbers",
    "Confirm the highest certificate number ever issued",
    Role.MANAGER,
    Role.ADMINISTRATOR,
)
