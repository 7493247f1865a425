"""Index of the background tasks of standards: imports each topic's tasks and says when the clock wakes them."""

from __future__ import annotations

from typing import Any

SCHEDULE: dict[str, dict[str, Any]] = {}
