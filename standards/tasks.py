"""Index of the background tasks of standards: imports each topic's tasks and says when the clock wakes them."""

from __future__ import annotations

from typing import Any

from standards.traceability import tasks as traceability

EVERY_HOUR_S = 3600.0

SCHEDULE: dict[str, dict[str, Any]] = {
    "sweep-pending": {"task": traceability.sweep_pending.name, "schedule": EVERY_HOUR_S},
}
