"""Who may read the journal, and the permission to read the laboratory's records at all."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

READ_JOURNAL = permission(
    "read_journal", "Read the journal", Role.MANAGER, Role.AUDITOR, Role.ADMINISTRATOR, Role.REVIEWER
)
READ_RECORDS = permission(
    "read_records",
    "Read gauges, standards, results and certificates",
    *(role for role in Role if role is not Role.FLOOR),
)
