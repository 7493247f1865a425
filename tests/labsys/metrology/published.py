"""Reads the published cases; each file holds its source beside the values.

A test asks for a printed quantity by its name, so a value that nobody checks stays visible in the file.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[2] / "golden" / "published"


def case(name: str) -> dict[str, Any]:
    """Read one case."""
    found: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return found


def entry(name: str, quantity: str) -> dict[str, Any]:
    """Read the one entry of a case with this quantity."""
    (found,) = [one for one in case(name)["expected"] if one["quantity"] == quantity]
    return dict(found)


def printed(name: str, quantity: str) -> float:
    """Give the printed value."""
    return float(entry(name, quantity)["printed"])


def recomputed(name: str, quantity: str) -> float:
    """Give the value with all digits, worked out independently from the published inputs."""
    return float(entry(name, quantity)["recomputed"])
