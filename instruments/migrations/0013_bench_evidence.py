"""What the bench keeps besides readings: photos, the time in the room, stretches of log, trials of cables."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from labsys.journal.rows import AppendOnly


class Migration(migrations.Migration):
    """Photos, notes about the time in the room, the log behind a condition, trials of cables; all append-only."""

    dependencies = [
        ("instruments", "0012_bench_grants"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="CableCheck",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("device", models.CharField(blank=True, max_length=64)),
                ("sent", models.CharField(blank=True, max_length=100)),
                (
                    "ended",
                    models.CharField(
                        choices=[
                            ("enter", "Enter"),
                            ("tab", "Tab"),
                            ("nothing", "nothing"),
                            ("unseen", "not seen"),
                        ],
                        max_length=7,
                    ),
                ),
                ("is_good", models.BooleanField()),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-at", "-pk"),
            },
        ),
        migrations.CreateModel(
            name="ConditionSpan",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("start", models.DateTimeField()),
                ("end", models.DateTimeField()),
                ("reading_count", models.PositiveIntegerField()),
                ("temperature_low_c", models.DecimalField(decimal_places=3, max_digits=6)),
                ("temperature_high_c", models.DecimalField(decimal_places=3, max_digits=6)),
                ("humidity_low_percent", models.DecimalField(decimal_places=1, max_digits=4, null=True)),
                ("humidity_high_percent", models.DecimalField(decimal_places=1, max_digits=4, null=True)),
                ("gap_count", models.PositiveIntegerField(default=0)),
                (
                    "condition",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="span",
                        to="instruments.condition",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="CustodyPhoto",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("file", models.CharField(max_length=200)),
                ("preview", models.CharField(max_length=200)),
                ("sha256", models.CharField(max_length=64)),
                ("media_type", models.CharField(max_length=20)),
                ("size_bytes", models.PositiveIntegerField()),
                ("width", models.PositiveIntegerField()),
                ("height", models.PositiveIntegerField()),
                ("note", models.CharField(blank=True, max_length=200)),
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
                    "event",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photos",
                        to="instruments.custodyevent",
                    ),
                ),
            ],
            options={
                "ordering": ("event", "pk"),
                "constraints": [
                    models.UniqueConstraint(fields=("event", "sha256"), name="custody_photo_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Photo",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("file", models.CharField(max_length=200)),
                ("preview", models.CharField(max_length=200)),
                ("sha256", models.CharField(max_length=64)),
                ("media_type", models.CharField(max_length=20)),
                ("size_bytes", models.PositiveIntegerField()),
                ("width", models.PositiveIntegerField()),
                ("height", models.PositiveIntegerField()),
                ("note", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                ("look", models.CharField(blank=True, max_length=40)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photos",
                        to="instruments.run",
                    ),
                ),
            ],
            options={
                "ordering": ("run", "pk"),
                "constraints": [models.UniqueConstraint(fields=("run", "look", "sha256"), name="photo_once")],
            },
        ),
        migrations.CreateModel(
            name="SoakNote",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("laid", "laid beside the standards"),
                            ("early", "going on before the time is up"),
                        ],
                        max_length=5,
                    ),
                ),
                ("since", models.DateTimeField()),
                ("reason", models.CharField(blank=True, max_length=200)),
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
                    "session",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="soak_notes",
                        to="instruments.session",
                    ),
                ),
            ],
            options={
                "ordering": ("session", "at", "pk"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "early"), _negated=True),
                            models.Q(("reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="soak_note_early_has_reason",
                        violation_error_message="Going on before the time is up needs the reason.",
                    )
                ],
            },
        ),
        AppendOnly("instruments_cablecheck"),
        AppendOnly("instruments_conditionspan"),
        AppendOnly("instruments_custodyphoto"),
        AppendOnly("instruments_photo"),
        AppendOnly("instruments_soaknote"),
    ]
