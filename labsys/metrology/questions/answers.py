"""What a question is answered with: named values, the steps that led there, the documents they follow.

Lives here: the answer and its plain form. May not live here: how anything is worked out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from typing import Any, TypeAlias

Plain: TypeAlias = "str | int | float | bool | None | list[Plain] | dict[str, Plain]"


@dataclass(frozen=True, slots=True)
class Step:
    """One step in words, such as “u = √Σ(cᵢ·uᵢ)²”, with what it gave."""

    text: str
    gave: object


@dataclass(frozen=True, slots=True)
class Answer:
    """Values by name, in the units their names or the question say; ``sources`` name document and clause."""

    values: Mapping[str, object]
    steps: tuple[Step, ...] = ()
    sources: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Plain]:
        """Give plain dicts, lists, numbers and texts."""
        return {
            "values": plain_form(self.values),
            "steps": [{"step": one.text, "gave": plain_form(one.gave)} for one in self.steps],
            "sources": list(self.sources),
        }


def plain_form(value: Any) -> Plain:
    """Make JSON of a value: decimals as texts (exact), infinities as “infinite”, numpy's numbers and arrays as ours."""
    if isinstance(value, Enum):
        return plain_form(value.value)
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Mapping):
        return {str(name): plain_form(one) for name, one in value.items()}
    if hasattr(value, "tolist"):
        return plain_form(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else _words(value)
    if isinstance(value, Sequence):
        return [plain_form(one) for one in value]
    raise TypeError(f"an answer holds {type(value).__name__}, which has no plain form")


def _words(value: float) -> str:
    return "not a number" if math.isnan(value) else "infinite" if value > 0 else "minus infinite"
