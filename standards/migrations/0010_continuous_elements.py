"""Elements that serve every length up to their nominal; more kinds of standards."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    """Elements that serve every length up to their nominal; more kinds of standards."""

    dependencies = [
        ("standards", "0009_append_only"),
    ]

    operations = [
        migrations.AddField(
            model_name="element",
            name="continuous",
            field=models.BooleanField(default=False),
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
                    ("thermometer", "thermometer"),
                ],
                max_length=20,
            ),
        ),
    ]
