"""Sources of limits may say what comes from where."""

from __future__ import annotations

from django.db import migrations, models

from labsys.journal.rows import GuardAnew


class Migration(migrations.Migration):
    """Longer sources of limits."""

    dependencies = [
        ("instruments", "0014_points_of_every_family"),
    ]

    operations = [
        migrations.AlterField(
            model_name="limitset",
            name="source",
            field=models.CharField(max_length=500),
        ),
        GuardAnew("instruments_limitset"),
    ]
