"""Index of the background tasks of the site: imports each topic's tasks and says when the clock wakes them."""

from __future__ import annotations

from typing import Any

from labsys.jobs import tasks as jobs

EVERY_MINUTE_S, EVERY_HOUR_S = 60.0, 3600.0

SCHEDULE: dict[str, dict[str, Any]] = {
    "send-notices": {"task": jobs.send_notices.name, "schedule": EVERY_MINUTE_S},
    "verify-journal": {"task": jobs.verify_journal.name, "schedule": EVERY_HOUR_S},
}
