"""Families say whether their gauges measure lengths or angles."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    """Families say whether their gauges measure lengths or angles."""

    dependencies = [
        ("labsys", "0009_append_only"),
    ]

    operations = [
        migrations.AddField(
            model_name="family",
            name="quantity",
            field=models.CharField(
                choices=[("length", "length"), ("angle", "angle")],
                default="length",
                max_length=8,
            ),
        ),
    ]
