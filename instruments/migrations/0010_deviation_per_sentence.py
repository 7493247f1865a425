from __future__ import annotations

from django.db import migrations, models

from labsys.journal.rows import GuardAnew


class Migration(migrations.Migration):
    """What a reviewer accepted is the sentence they read: the same rule broken further is accepted anew."""

    dependencies = [("instruments", "0009_append_only")]

    operations = [
        migrations.RemoveConstraint(model_name="deviation", name="deviation_once"),
        migrations.AddConstraint(
            model_name="deviation",
            constraint=models.UniqueConstraint(fields=("session", "rule", "sentence"), name="deviation_once"),
        ),
        GuardAnew("instruments_deviation"),
    ]
