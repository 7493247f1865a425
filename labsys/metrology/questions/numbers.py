"""What several kinds of question read alike.

Lives here: shared shapes of numbers. May not live here: any kind of question.
"""

from __future__ import annotations

from labsys.metrology.questions.fields import Fields


def maybe(fields: Fields, name: str, **bounds: float) -> float | None:
    """Read a number that may be left out."""
    return fields.number(name, **bounds) if fields.has(name) else None
