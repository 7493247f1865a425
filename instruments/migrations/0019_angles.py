"""Columns take a whole turn in arc seconds; models may show degrees."""

from __future__ import annotations

from django.db import migrations, models

from labsys.journal.rows import GuardAnew


class Migration(migrations.Migration):
    """Columns take a whole turn in arc seconds; models may show degrees."""

    dependencies = [
        ("instruments", "0018_sittings"),
    ]

    operations = [
        migrations.AlterField(
            model_name="gaugemodel",
            name="range_high_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="gaugemodel",
            name="range_low_mm",
            field=models.DecimalField(decimal_places=9, default=0, max_digits=16),
        ),
        migrations.AlterField(
            model_name="gaugemodel",
            name="resolution",
            field=models.DecimalField(
                decimal_places=9, help_text="one step, in the unit shown", max_digits=16
            ),
        ),
        migrations.AlterField(
            model_name="gaugemodel",
            name="scale_period_mm",
            field=models.DecimalField(blank=True, decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="gaugemodel",
            name="unit",
            field=models.CharField(
                choices=[
                    ("mm", "mm"),
                    ("in", "in"),
                    ("°", "° (degrees with decimals)"),
                    ("′", "° ′ (degrees and minutes)"),
                ],
                max_length=3,
            ),
        ),
        migrations.AlterField(
            model_name="limitrow",
            name="lower_mm",
            field=models.DecimalField(blank=True, decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="limitrow",
            name="up_to_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="limitrow",
            name="upper_mm",
            field=models.DecimalField(blank=True, decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="member",
            name="nominal_mm",
            field=models.DecimalField(blank=True, decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="point",
            name="nominal_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="pointreference",
            name="deviation_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="pointreference",
            name="nominal_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="reading",
            name="value",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="reading",
            name="value_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="result",
            name="U_mm",
            field=models.DecimalField(
                decimal_places=9,
                help_text="calibration uncertainty, expanded: what the certificate reports",
                max_digits=16,
                null=True,
            ),
        ),
        migrations.AlterField(
            model_name="result",
            name="U_test_mm",
            field=models.DecimalField(
                decimal_places=9, help_text="test-value uncertainty, expanded", max_digits=16, null=True
            ),
        ),
        migrations.AlterField(
            model_name="result",
            name="lower_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="result",
            name="upper_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="result",
            name="value_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="zerocheck",
            name="value_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        GuardAnew("instruments_limitrow"),
        GuardAnew("instruments_pointreference"),
        GuardAnew("instruments_reading"),
        GuardAnew("instruments_result"),
        GuardAnew("instruments_zerocheck"),
    ]
