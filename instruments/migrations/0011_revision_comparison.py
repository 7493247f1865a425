"""What the simulation made of a revision's budget is kept with it, and frozen with it."""

from __future__ import annotations

from django.db import migrations, models

from labsys.journal.rows import GuardAnew


class Migration(migrations.Migration):
    """One column, and the guard of the table anew."""

    dependencies = [("instruments", "0010_deviation_per_sentence")]

    operations = [
        migrations.AddField(
            model_name="revision",
            name="comparison",
            field=models.JSONField(
                help_text="first order against simulation at approval; none before it was made", null=True
            ),
        ),
        GuardAnew("instruments_revision", ("retired_at",), "OLD.approved_at IS NOT NULL"),
    ]
