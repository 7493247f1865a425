"""Evidence that a draft was tried on past sessions before it was approved."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from labsys.journal.rows import AppendOnly


class Migration(migrations.Migration):
    """Outcomes of trying a draft, kept for good."""

    dependencies = [
        ("instruments", "0015_longer_sources"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ProcedureValidation",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("content_sha256", models.CharField(max_length=64)),
                (
                    "rule",
                    models.CharField(
                        choices=[
                            ("agreed", "the rule that each session's owner had agreed on"),
                            ("own", "the draft's own rule"),
                        ],
                        max_length=6,
                    ),
                ),
                ("session_count", models.PositiveIntegerField()),
                ("result_count", models.PositiveIntegerField()),
                (
                    "changed_count",
                    models.PositiveIntegerField(help_text="verdicts that the draft would give otherwise"),
                ),
                (
                    "unjudged_count",
                    models.PositiveIntegerField(help_text="results that the draft does not come to"),
                ),
                ("record", models.TextField()),
                ("record_sha256", models.CharField(max_length=64)),
                ("kept_at", models.DateTimeField()),
                (
                    "kept_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "revision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="validations",
                        to="instruments.revision",
                    ),
                ),
            ],
            options={
                "ordering": ("revision", "-kept_at", "-pk"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("revision", "record_sha256"),
                        name="procedure_validation_once",
                        violation_error_message="This very outcome is kept already.",
                    )
                ],
            },
        ),
        AppendOnly("instruments_procedurevalidation"),
    ]
