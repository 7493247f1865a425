from __future__ import annotations

from django.conf import settings
from django.db import migrations, models

from labsys.journal.rows import AppendOnly, GuardAnew


class Migration(migrations.Migration):
    """Keys with which tablets deposit, and how far a tablet's clock was off."""

    dependencies = [("instruments", "0011_revision_comparison")]

    operations = [
        migrations.AddField(
            model_name="arrival",
            name="clock_off_s",
            field=models.IntegerField(default=0),
        ),
        GuardAnew("instruments_arrival"),
        migrations.CreateModel(
            name="BenchGrant",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("device", models.CharField(max_length=64)),
                ("key_sha256", models.CharField(max_length=64, unique=True)),
                ("granted_at", models.DateTimeField()),
                ("until", models.DateTimeField()),
                ("ended_at", models.DateTimeField(null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=models.PROTECT, related_name="bench_grants", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={"indexes": [models.Index(fields=["person", "device"], name="bench_grant_of_device")]},
        ),
        AppendOnly("instruments_benchgrant", ("ended_at",)),
    ]
