"""The outcome of a trial as people read it: on the page, and as rows of a file.

Lives here: words and figures. May not live here: what was found (record.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any

from instruments.measuring.dry_run.record import (
    ADDED,
    NOT_JUDGED,
    REFUSED,
    Figures,
    Line,
    SessionTried,
    Tried,
)
from instruments.measuring.models import Result
from instruments.measuring.showing.values import fit_words, written
from labsys.metrology.reporting import round_uncertainty
from labsys.metrology.units import Quantity, Unit, from_mm
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import View
from labsys.pages import figures

HEADINGS = (
    "Session",
    "Gauge",
    "Model",
    "Opened",
    "Measured under",
    "Rule judged by",
    "Stage",
    "Result",
    "Error then (mm)",
    "Error now (mm)",
    "U then (mm)",
    "U now (mm)",
    "Test value U then (mm)",
    "Test value U now (mm)",
    "Change of U (%)",
    "Verdict then",
    "Verdict now",
    "What changes, and why",
    "Rules of the draft left open",
)
JUDGED_WORDS = {NOT_JUDGED: "not judged", REFUSED: "no verdict", ADDED: "not there"}
"""What stands for the verdict that one side lacks."""


@dataclass(frozen=True)
class LineShown:
    """One result: figures with their unit, verdicts as codes; ``lacks`` stands where a side has no verdict."""

    line: Line
    error: str
    U_then: str
    U_now: str
    decided_then: str
    decided_now: str

    @property
    def lacks(self) -> str:
        """Say in words why a side is empty; empty where none is."""
        return JUDGED_WORDS.get(self.line.judged, "")


@dataclass(frozen=True)
class GroupShown:
    """Results that differ for the same reason; an empty one for those that don't."""

    lines: tuple[LineShown, ...]
    why: str


@dataclass(frozen=True)
class StageShown:
    """The results of one stage of a session."""

    name: str
    groups: tuple[GroupShown, ...]


@dataclass(frozen=True)
class SessionShown:
    """One session with its stages."""

    session: SessionTried
    stages: tuple[StageShown, ...]
    says: str

    @property
    def is_open(self) -> bool:
        """Say whether it is shown unfolded: a verdict, a rejection or what is judged at all changes in it."""
        return any(
            line.verdict_changes or line.rejection_changes or not line.is_judged
            for line in self.session.lines
        )


def shown(tried: Tried) -> tuple[SessionShown, ...]:
    """Give the sessions of an outcome as the page shows them."""
    return tuple(SessionShown(one, _stages(one), _says(one)) for one in tried.sessions)


def largest(tried: Tried) -> str:
    """Write the largest change of U in percent, with its sign; empty where no U is there twice."""
    found = tried.largest_U_percent
    return "" if found is None else _percent(found)


def headings(quantity: Quantity) -> tuple[str, ...]:
    """Give the headings of the file, with the unit that figures of this quantity are in."""
    return tuple(one.replace("(mm)", f"({quantity.base})") for one in HEADINGS)


def rows(tried: Tried) -> Iterator[Sequence[Any]]:
    """Give an outcome as rows of a file: one for each result, in mm or arc seconds without rounding."""
    for one in tried.sessions:
        head = (one.session, one.gauge, one.model, one.opened_on, one.revision, one.rule)
        for line in one.lines:
            yield (*head, *_cells(line), " ".join(one.open_rules))


def _cells(line: Line) -> tuple[Any, ...]:
    then, now = line.then, line.now
    return (
        line.stage,
        line.label,
        *(then.error_mm, now.error_mm, then.U_mm, now.U_mm, then.U_test_mm, now.U_test_mm),
        "" if line.U_percent is None else f"{line.U_percent:.2f}",
        _verdict(then, "" if line.judged != ADDED else JUDGED_WORDS[ADDED]),
        _verdict(now, "" if line.judged == ADDED else JUDGED_WORDS.get(line.judged, "")),
        line.why or "nothing",
    )


def _verdict(side: Figures, otherwise: str) -> str:
    return Verdict(side.verdict).words if side.verdict else otherwise or "no limit of its own"


def _stages(one: SessionTried) -> tuple[StageShown, ...]:
    names = dict.fromkeys(line.stage for line in one.lines)
    return tuple(
        StageShown(name, tuple(_groups(line for line in one.lines if line.stage == name))) for name in names
    )


def _groups(found: Iterable[Line]) -> Iterator[GroupShown]:
    """Put lines that follow each other and differ for the same reason, word for word, together."""
    for why, lines in groupby(found, key=lambda line: line.why):
        shown_lines = tuple(_line(line) for line in lines)
        yield GroupShown(
            shown_lines, f"These {len(shown_lines)}: {why}" if why and len(shown_lines) > 1 else why
        )


def _line(line: Line) -> LineShown:
    before, after = (_value(line, side) for side in (line.then, line.now))
    by_test_value = line.view == View.TEST_VALUE
    return LineShown(
        line=line,
        error=before if before == after or not after else f"{before} → {after}" if before else after,
        U_then=_spread(line, line.then.U_mm),
        U_now=_spread(line, line.now.U_mm),
        decided_then=_spread(line, line.then.U_test_mm) if by_test_value else "",
        decided_now=_spread(line, line.now.U_test_mm) if by_test_value else "",
    )


def _value(line: Line, side: Figures) -> str:
    if not side.error_mm:
        return ""
    value = Decimal(side.error_mm)
    if line.kind == Result.Kind.ATTRIBUTE:
        return fit_words(value)
    in_unit = from_mm(value, Unit(line.unit), decimals=12)
    return figures.with_unit(written(in_unit, line.kind, line.places), line.unit)


def _spread(line: Line, U_mm: str) -> str:
    """Write U to two digits in the gauge's unit; that of what is exact is nought."""
    if not U_mm:
        return ""
    U = from_mm(Decimal(U_mm), Unit(line.unit), decimals=12)
    return figures.with_unit(f"{round_uncertainty(U):f}" if U else "0", line.unit)


def _says(one: SessionTried) -> str:
    """Say in a few words what changes in a session."""
    changed = sum(line.changes for line in one.lines)
    if not changed:
        return "nothing changes"
    unjudged = sum(not line.is_judged for line in one.lines)
    if one.changed_count:
        return f"{one.changed_count} verdict{'' if one.changed_count == 1 else 's'} of {len(one.lines)} would change"
    if unjudged:
        return f"no verdict changes; {unjudged} of {len(one.lines)} results would not be judged"
    return f"no verdict changes; {changed} of {len(one.lines)} results would come out otherwise"


def _percent(value: float) -> str:
    places = 1 if abs(value) < 10 else 0
    return f"{figures.signed(Decimal(f'{value:.6f}'), places=places)} %"
