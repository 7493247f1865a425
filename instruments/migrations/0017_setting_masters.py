"""Standings know the setting master behind a gauge: until when it may be used, and which one."""

from __future__ import annotations

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import F

# "May not be used because of its setting master" stands in the order of severity where "restricted" stood.
FIRST_MOVED = 12


def move_down(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    """Make room in the order of severity."""
    rows = apps.get_model("instruments", "GaugeStanding").objects
    rows.filter(rank__gte=FIRST_MOVED).update(rank=F("rank") + 1)


def move_up(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    """Close the gap again."""
    rows = apps.get_model("instruments", "GaugeStanding").objects
    rows.filter(rank__gte=FIRST_MOVED).update(rank=F("rank") - 1)


class Migration(migrations.Migration):
    """Setting masters in the standing of gauges."""

    dependencies = [
        ("instruments", "0016_procedure_validation"),
    ]

    operations = [
        migrations.AddField(
            model_name="gaugestanding",
            name="master_until",
            field=models.DateField(help_text="the first due date among its setting masters", null=True),
        ),
        migrations.AddField(
            model_name="gaugestanding",
            name="master_named",
            field=models.CharField(blank=True, default="", help_text="the one due then", max_length=100),
        ),
        migrations.RunPython(move_down, move_up),
    ]
