"""Points with direction and member, results of every kind, sittings."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from labsys.journal.rows import GuardAnew


class Migration(migrations.Migration):
    """Points with direction and member, results of every kind, sessions that share a set-up."""

    dependencies = [
        ("instruments", "0012_bench_grants"),
        ("labsys", "0009_append_only"),
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
            ],
            options={
                "ordering": ("-opened_at",),
            },
        ),
        migrations.AddField(
            model_name="point",
            name="direction",
            field=models.CharField(
                blank=True,
                choices=[("up", "going up"), ("down", "coming down"), ("", "no direction")],
                default="",
                max_length=4,
            ),
        ),
        migrations.AddField(
            model_name="point",
            name="member",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="points",
                to="instruments.member",
            ),
        ),
        migrations.AddField(
            model_name="result",
            name="member",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="results",
                to="instruments.member",
            ),
        ),
        migrations.AddField(
            model_name="result",
            name="name",
            field=models.CharField(blank=True, default="", max_length=80),
        ),
        migrations.AlterField(
            model_name="point",
            name="place",
            field=models.CharField(blank=True, default="", max_length=24),
        ),
        migrations.AlterField(
            model_name="reading",
            name="unit",
            field=models.CharField(max_length=8),
        ),
        migrations.AlterField(
            model_name="result",
            name="U_mm",
            field=models.DecimalField(
                decimal_places=9,
                help_text="calibration uncertainty, expanded: what the certificate reports",
                max_digits=15,
                null=True,
            ),
        ),
        migrations.AlterField(
            model_name="result",
            name="U_test_mm",
            field=models.DecimalField(
                decimal_places=9, help_text="test-value uncertainty, expanded", max_digits=15, null=True
            ),
        ),
        migrations.AlterField(
            model_name="result",
            name="k",
            field=models.DecimalField(decimal_places=3, max_digits=6, null=True),
        ),
        migrations.AlterField(
            model_name="result",
            name="kind",
            field=models.CharField(
                choices=[
                    ("error", "error of indication"),
                    ("deviation", "deviation of size"),
                    ("value", "measured value"),
                    ("span", "span of the errors"),
                    ("section", "span of the errors over a short section"),
                    ("hysteresis", "hysteresis"),
                    ("spread", "repeatability"),
                    ("variation", "variation of length"),
                    ("roundness", "out of round"),
                    ("taper", "taper"),
                    ("attribute", "attribute"),
                ],
                max_length=10,
            ),
        ),
        migrations.AddConstraint(
            model_name="result",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("kind", "attribute"),
                    models.Q(("U_mm__isnull", False), ("U_test_mm__isnull", False), ("k__isnull", False)),
                    _connector="OR",
                ),
                name="result_has_uncertainty",
                violation_error_message="A measured result needs its uncertainty.",
            ),
        ),
        migrations.AddField(
            model_name="sitting",
            name="opened_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="sittings",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="sitting",
            name="place",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="labsys.place"
            ),
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
        GuardAnew("instruments_reading"),
        GuardAnew("instruments_result"),
    ]
