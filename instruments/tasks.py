"""Index of the background tasks of instruments: imports each topic's tasks and says when the clock wakes them."""

from __future__ import annotations

from typing import Any

from instruments.certificates import tasks as certificates
from instruments.measuring import tasks as measuring
from instruments.recall import tasks as recall
from instruments.reminders import tasks as reminders

EVERY_MINUTE_S, EVERY_TEN_MINUTES_S, EVERY_HOUR_S = 60.0, 600.0, 3600.0

SCHEDULE: dict[str, dict[str, Any]] = {
    "follow-journal": {"task": recall.follow.name, "schedule": EVERY_MINUTE_S},
    "settle-leftovers": {"task": measuring.settle.name, "schedule": EVERY_MINUTE_S},
    "refresh-standings": {"task": recall.refresh.name, "schedule": EVERY_HOUR_S},
    "render-certificates": {"task": certificates.render_owed.name, "schedule": EVERY_MINUTE_S},
    "plan-reminders": {"task": reminders.plan_reminders.name, "schedule": EVERY_TEN_MINUTES_S},
}
