"""Who may look after jobs and messages."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

MANAGE_MESSAGES = permission(
    "manage_messages", "Resend doubtful messages and watch jobs", Role.MANAGER, Role.ADMINISTRATOR
)
