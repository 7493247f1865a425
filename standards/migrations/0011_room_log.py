"""The log of the room: what thermometers logged, as it came, and the readings in it."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from labsys.journal.rows import AppendOnly


def _key() -> models.BigAutoField:
    return models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


class Migration(migrations.Migration):
    """Pieces of a thermometer's log as they came, and the readings in them."""

    dependencies = [
        ("standards", "0010_continuous_elements"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="LogUpload",
            fields=[
                ("id", _key()),
                (
                    "source",
                    models.CharField(choices=[("file", "a file"), ("program", "a program")], max_length=8),
                ),
                ("name", models.CharField(blank=True, max_length=200)),
                ("sha256", models.CharField(max_length=64)),
                ("content", models.TextField()),
                ("new_count", models.PositiveIntegerField()),
                ("known_count", models.PositiveIntegerField()),
                ("fault_count", models.PositiveIntegerField()),
                ("faults", models.JSONField(default=list)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "sensor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="log_uploads",
                        to="standards.standard",
                    ),
                ),
            ],
            options={"ordering": ("-at", "-pk")},
        ),
        migrations.CreateModel(
            name="LogReading",
            fields=[
                ("id", _key()),
                ("at", models.DateTimeField()),
                ("temperature_c", models.DecimalField(decimal_places=3, max_digits=6)),
                ("humidity_percent", models.DecimalField(decimal_places=1, max_digits=4, null=True)),
                (
                    "sensor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="log_readings",
                        to="standards.standard",
                    ),
                ),
                (
                    "upload",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="standards.logupload",
                    ),
                ),
            ],
            options={"ordering": ("sensor", "at")},
        ),
        migrations.AddConstraint(
            model_name="logupload",
            constraint=models.UniqueConstraint(
                fields=("sensor", "sha256"),
                name="log_upload_once",
                violation_error_message="This piece of the log is on record already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="logreading",
            constraint=models.UniqueConstraint(fields=("sensor", "at"), name="log_reading_once"),
        ),
        AppendOnly("standards_logupload"),
        AppendOnly("standards_logreading"),
    ]
