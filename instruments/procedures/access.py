"""Who may draft procedures and who may approve them."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

DRAFT_PROCEDURES = permission(
    "draft_procedures",
    "Draft procedures",
    Role.MANAGER,
    Role.TECHNICIAN,
    Role.REVIEWER,
)
APPROVE_PROCEDURES = permission(
    "approve_procedures",
    "Approve and retire procedures",
    Role.MANAGER,
    Role.REVIEWER,
)
