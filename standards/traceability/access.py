"""Who may record issuers and what they are recognised for. Accepting certificates is the register's permission."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

MANAGE_ISSUERS = permission(
    "manage_issuers", "Record issuers of certificates and their accreditations", Role.MANAGER, Role.REVIEWER
)
