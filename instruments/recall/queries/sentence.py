"""The first sentence of the manager's page: how much is late, and the first week that the bench can't do."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from instruments.recall.queries.workload import Week
from labsys.pages.tables import Count


def sentence(weeks: Sequence[Week], late: Count) -> str:
    """Say what presses: "14 late. Week 49 needs 31 h, the bench has 24 h."."""
    late_part = f"{late} late." if late.value else "Nothing is late."
    coming = [week for week in weeks if week.index >= 0]
    if not any(week.capacity for week in coming):
        return f"{late_part} Nobody has said how many hours a week the bench has."
    over = next((week for week in coming if week.excess), None)
    if over is None:
        return f"{late_part} The bench can do what is due in all {len(coming)} weeks."
    return (
        f"{late_part} Week {over.number} needs {_hours(over.needs)}, the bench has {_hours(over.capacity)}."
    )


def _hours(value: Decimal) -> str:
    return f"{value.normalize():f} h"
