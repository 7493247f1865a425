"""The ground a session is judged on, frozen when it opens: limits with their source, the rule, what was agreed.

What the owner changes later changes later sessions, never this one.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.journal.door import canonical
from labsys.metrology.limits import Limits
from labsys.metrology.rules import Rule
from labsys.metrology.units import Unit
from labsys.pages.figures import said_size


class NoLimitForFunction(LabError, ValueError):
    """The limits in force say nothing of a function and length."""

    code: ClassVar[str] = "no-limit-for-function"
    sentence: ClassVar[str] = (
        "The limits from “{source}” hold no line for {function} at {length}. "
        "Add the line to the limits, or leave the function out of the gauge."
    )


@dataclass(frozen=True)
class LimitLine:
    """One line of limits: for a function, up to a length in mm, lower and upper in mm (either may be missing)."""

    function: str
    up_to_mm: str
    lower_mm: str | None
    upper_mm: str | None


@dataclass(frozen=True)
class Basis:
    """Limits, rule and agreement of one session; ``confirmed`` is false until the laboratory confirmed the limits."""

    lines: tuple[LimitLine, ...]
    limits_source: str
    limits_confirmed: bool
    rule: dict[str, Any]
    agreed_by: str
    adjustment_allowed: bool
    due_date_printed: bool
    revision_sha256: str

    def limits_at(self, function: str, length_mm: Decimal, unit: Unit) -> Limits:
        """Give the limits for a function at a length of a gauge that shows ``unit``; raises NoLimitForFunction."""
        fitting = [
            line for line in self.lines if line.function == function and Decimal(line.up_to_mm) >= length_mm
        ]
        if not fitting:
            length = said_size(length_mm, unit)
            raise NoLimitForFunction(source=self.limits_source, function=function, length=length)
        line = min(fitting, key=lambda each: Decimal(each.up_to_mm))
        return Limits(
            lower=None if line.lower_mm is None else Decimal(line.lower_mm),
            upper=None if line.upper_mm is None else Decimal(line.upper_mm),
            unit=unit.quantity.base,
        )

    def decision_rule(self) -> Rule:
        """Give the agreed decision rule."""
        return Rule.from_json(self.rule)

    def dump(self) -> str:
        """Write as the canonical text that the session keeps."""
        return canonical(asdict(self))

    @classmethod
    def load(cls, text: str) -> Basis:
        """Read back what ``dump`` wrote."""
        stored = json.loads(text)
        lines = tuple(LimitLine(**line) for line in stored.pop("lines"))
        return cls(lines=lines, **stored)


def lines_of(rows: list[dict[str, Any]]) -> tuple[LimitLine, ...]:
    """Make lines of limit rows as they travel, decimals as strings."""
    keys = ("function", "up_to_mm", "lower_mm", "upper_mm")
    return tuple(LimitLine(*(None if row[key] is None else str(row[key]) for key in keys)) for row in rows)  # type: ignore[arg-type]
