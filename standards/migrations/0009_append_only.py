"""The database itself refuses to change or delete what was observed, decided or signed."""

from __future__ import annotations

from django.db import migrations

from labsys.journal.rows import AppendOnly


class Migration(migrations.Migration):
    """Triggers on the append-only tables, for both engines."""

    dependencies = [("standards", "0001_initial")]

    operations = [
        AppendOnly("standards_standardstate"),
        AppendOnly("standards_elementstate"),
        AppendOnly("standards_elementvalue"),
        AppendOnly("standards_accreditation"),
        AppendOnly("standards_certificatereview"),
        AppendOnly("standards_reliance"),
        AppendOnly("standards_calibration", ("accepted_at", "rejected_at", "evidence")),
        AppendOnly("standards_certificatereceived", ("file", "file_sha256")),
    ]
