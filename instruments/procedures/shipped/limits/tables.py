"""The tables that limits to start with are taken from, each with its source.

Lives here: reading them. May not live here: which line holds for a gauge.
"""

from __future__ import annotations

import json
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any

_MICROMETRES = 1000


@cache
def table(name: str) -> dict[str, Any]:
    """Read a table by its name."""
    text = files(__package__).joinpath("tables", f"{name}.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def um(text: str) -> Decimal:
    """Give micrometres of a table in mm."""
    return Decimal(text) / _MICROMETRES


def reaching(rows: list[dict[str, Any]], length_mm: Decimal, key: str = "to_mm") -> dict[str, Any] | None:
    """Find the first line of ascending ones that goes up to a length; None beyond the last."""
    return next((row for row in rows if Decimal(row[key]) >= length_mm), None)
