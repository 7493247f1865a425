"""Several gauges in one sitting: the sitting is append-only, a session names the one it belongs to."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from labsys.journal.rows import AppendOnly


class Migration(migrations.Migration):
    """Sittings, and the sitting of a session."""

    dependencies = [
        ("instruments", "0017_setting_masters"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Sitting",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("opened_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "place",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="labsys.place"
                    ),
                ),
            ],
            options={"ordering": ("-opened_at",)},
        ),
        migrations.AddField(
            model_name="session",
            name="sitting",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="sessions",
                to="instruments.sitting",
            ),
        ),
        AppendOnly("instruments_sitting"),
    ]
