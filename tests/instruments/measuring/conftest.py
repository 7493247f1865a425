"""The bench's laboratory and player."""

from __future__ import annotations

from tests.bench import _zone, bring, content, first_day, gauge, lab, player, sit

__all__ = ["_zone", "bring", "content", "first_day", "gauge", "lab", "player", "sit"]
