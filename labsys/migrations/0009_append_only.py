"""The database itself refuses to change or delete what was observed, decided or signed."""

from __future__ import annotations

from django.db import migrations

from labsys.journal.rows import AppendOnly


class Migration(migrations.Migration):
    """Triggers on the append-only tables, for both engines."""

    dependencies = [("labsys", "0001_initial")]

    operations = [
        AppendOnly("labsys_journalentry"),
        AppendOnly("labsys_signature"),
        AppendOnly("labsys_authorisation"),
        AppendOnly("labsys_agreement"),
        AppendOnly("labsys_laboratorydetail"),
        AppendOnly("labsys_capacity"),
    ]
