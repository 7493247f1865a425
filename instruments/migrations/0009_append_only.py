"""The database itself refuses to change or delete what was observed, decided or signed."""

from __future__ import annotations

from django.db import migrations

from labsys.journal.rows import AppendOnly


class Migration(migrations.Migration):
    """Triggers on the append-only tables, for both engines."""

    dependencies = [("instruments", "0002_initial")]

    operations = [
        AppendOnly("instruments_limitset"),
        AppendOnly("instruments_limitrow"),
        AppendOnly("instruments_gaugestate"),
        AppendOnly("instruments_custodyevent"),
        AppendOnly("instruments_calibrationevent"),
        AppendOnly("instruments_intervalassignment"),
        AppendOnly("instruments_restriction"),
        AppendOnly("instruments_extension"),
        AppendOnly("instruments_usecheck"),
        AppendOnly("instruments_reminder"),
        AppendOnly("instruments_revision", ("retired_at",), "OLD.approved_at IS NOT NULL"),
        AppendOnly("instruments_adjustment"),
        AppendOnly("instruments_runstandard"),
        AppendOnly("instruments_pointvoid"),
        AppendOnly("instruments_pointreference"),
        AppendOnly("instruments_arrival"),
        AppendOnly(
            "instruments_setaside",
            (
                "resolved_at",
                "resolved_by",
                "resolution",
            ),
        ),
        AppendOnly("instruments_reading"),
        AppendOnly("instruments_strike"),
        AppendOnly("instruments_zerocheck"),
        AppendOnly("instruments_check"),
        AppendOnly("instruments_condition"),
        AppendOnly("instruments_deviation"),
        AppendOnly("instruments_submission"),
        AppendOnly("instruments_result"),
        AppendOnly("instruments_review"),
        AppendOnly("instruments_certificate", ("file", "file_sha256", "issued_at"), free=("state",)),
    ]
