"""Columns take a whole turn in arc seconds; kinds of angle standards."""

from __future__ import annotations

from django.db import migrations, models

from labsys.journal.rows import GuardAnew


class Migration(migrations.Migration):
    """Columns take a whole turn in arc seconds; kinds of angle standards."""

    dependencies = [
        ("standards", "0011_room_log"),
    ]

    operations = [
        migrations.AlterField(
            model_name="accreditation",
            name="cmc_constant_mm",
            field=models.DecimalField(decimal_places=9, help_text="smallest U: constant part", max_digits=16),
        ),
        migrations.AlterField(
            model_name="accreditation",
            name="range_high_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="accreditation",
            name="range_low_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="element",
            name="nominal_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="elementvalue",
            name="U_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="elementvalue",
            name="deviation_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16),
        ),
        migrations.AlterField(
            model_name="elementvalue",
            name="limit_mm",
            field=models.DecimalField(decimal_places=9, max_digits=16, null=True),
        ),
        migrations.AlterField(
            model_name="standard",
            name="kind",
            field=models.CharField(
                choices=[
                    ("block-set", "gauge block set"),
                    ("check-bar", "check bar"),
                    ("ring", "setting ring"),
                    ("pin", "pin"),
                    ("tester", "indicator tester"),
                    ("optical-flat", "optical flat or parallel"),
                    ("rod", "setting rod"),
                    ("wires", "measuring wires"),
                    ("plate", "surface plate"),
                    ("micrometer", "micrometer or comparator"),
                    ("angle-blocks", "angle blocks"),
                    ("polygon", "polygon"),
                    ("sine-bar", "sine bar with its blocks"),
                    ("thermometer", "thermometer"),
                ],
                max_length=20,
            ),
        ),
        migrations.AlterField(
            model_name="standard",
            name="wanted_u_constant_mm",
            field=models.DecimalField(
                blank=True,
                decimal_places=9,
                help_text="the largest U (k = 2) that its use allows: constant part",
                max_digits=16,
                null=True,
            ),
        ),
        GuardAnew("standards_elementvalue"),
        GuardAnew("standards_accreditation"),
    ]
