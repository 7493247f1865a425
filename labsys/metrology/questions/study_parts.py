"""What the studies of ``study`` share: reading nested lists, and the plain form of their results.

Lives here: shapes. May not live here: any study.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final

from labsys.metrology.questions.fields import Fields, as_decimal, refuse
from labsys.metrology.studies.anova import Line
from labsys.metrology.studies.intervals import Interval
from labsys.metrology.studies.levels import Level
from labsys.metrology.studies.meaning import Meaning, meaning_of_breakdown
from labsys.metrology.studies.variation import Breakdown

MANUAL: Final = "AIAG MSA, 4th edition, chapter III section B"
HANDBOOK: Final = "NIST/SEMATECH e-Handbook"


def deep(fields: Fields, name: str, depth: int) -> list[Any]:
    """Read lists of numbers nested ``depth`` deep, of any length; raises QuestionUnreadable."""
    found: list[Any] = _deep(fields.raw(name), fields.at(name), depth)
    return found


def told(meaning: tuple[Meaning, ...]) -> list[dict[str, Any]]:
    """Give sentences with their grades and sources."""
    return [asdict(one) for one in meaning]


def _deep(found: Any, place: str, depth: int) -> Any:
    if depth == 0:
        return float(as_decimal(found, place))
    if not isinstance(found, list):
        raise refuse(place, f"lists of numbers, {depth} deep", found)
    return [_deep(one, f"{place}[{index}]", depth - 1) for index, one in enumerate(found)]


def table(lines: Mapping[str, Line]) -> dict[str, Any]:
    """Give the lines of an analysis of variance with their mean squares."""
    return {name: {**asdict(line), "ms": line.ms} for name, line in lines.items()}


def level(level: Level) -> dict[str, Any]:
    """Give one level of a design over time."""
    return {**asdict(level), "added": level.added}


def intervals(found: Mapping[str, Interval]) -> dict[str, Any]:
    """Give intervals with their sources."""
    return {name: asdict(one) for name, one in found.items()}


def broken_down(found: Breakdown) -> dict[str, Any]:
    """Give how the spread divides, and what it means."""
    return {
        "rows": {name: {**asdict(one), "sd": one.sd} for name, one in found.rows.items()},
        "ndc": found.ndc,
        "ndc_unrounded": found.ndc_unrounded,
        "ndc_rule": found.scale.ndc_rule,
        "notes": found.notes,
        "meaning": told(meaning_of_breakdown(found)),
    }
