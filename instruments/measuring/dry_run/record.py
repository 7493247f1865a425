"""What a trial on past sessions found: result by result, session by session, with its counts and its stored form.

Lives here: the records. May not live here: how they are found, how they are shown.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from labsys.journal.door import canonical, hash_of
from labsys.metrology.verdicts import Verdict, roll_up

FORMAT = 1
AGREED, OWN = "agreed", "own"
"""Judged by the rule that each session's owner had agreed on, or by the draft's own rule."""

AGAIN, REFUSED, NOT_JUDGED, ADDED = "again", "refused", "not-judged", "added"
"""A result that both have; one that gets no verdict under the draft, since U is too large for the limits; one that the
draft doesn't come to; one that only the draft comes to."""


@dataclass(frozen=True)
class Figures:
    """What one result says: error or value, both expanded uncertainties, all in mm as text; verdict, spread.

    A missing one is empty. ``is_rejected``: its readings spread over more than is allowed.
    """

    error_mm: str = ""
    U_mm: str = ""
    U_test_mm: str = ""
    verdict: str = ""
    is_rejected: bool = False


@dataclass(frozen=True)
class Line:
    """One result, then and now. ``view`` is the uncertainty that decides; ``places`` the decimals of an error."""

    stage: str
    label: str
    kind: str
    unit: str
    places: int
    judged: str
    view: str
    then: Figures
    now: Figures
    why: str = ""

    @property
    def is_judged(self) -> bool:
        """Say whether there is a then and a now."""
        return self.judged == AGAIN

    @property
    def verdict_changes(self) -> bool:
        """Say whether the draft would give another verdict."""
        return self.is_judged and self.then.verdict != self.now.verdict

    @property
    def rejection_changes(self) -> bool:
        """Say whether the readings' spread would be allowed where it wasn't, or the other way round."""
        return self.is_judged and self.then.is_rejected != self.now.is_rejected

    @property
    def U_percent(self) -> float | None:
        """Give by how many percent U of the certificate changes; None where it isn't there twice."""
        if not self.then.U_mm or not self.now.U_mm or not Decimal(self.then.U_mm):
            return None
        return float((Decimal(self.now.U_mm) / Decimal(self.then.U_mm) - 1) * 100)

    @property
    def changes(self) -> bool:
        """Say whether anything differs."""
        return self.then != self.now or not self.is_judged


@dataclass(frozen=True)
class SessionTried:
    """One session: its lines, what its points leave open of the draft's rules, the rule judged by in words."""

    session: int
    gauge: str
    model: str
    revision: str
    opened_on: str
    rule: str
    lines: tuple[Line, ...]
    open_rules: tuple[str, ...]

    @property
    def verdict_then(self) -> str:
        """Give the most severe verdict of the last stage as it was."""
        return self._rolled(lambda line: line.then)

    @property
    def verdict_now(self) -> str:
        """Give the most severe verdict of the last stage by the draft; empty where it judges nothing."""
        return self._rolled(lambda line: line.now)

    @property
    def changes(self) -> bool:
        """Say whether any of its results differs."""
        return any(line.changes for line in self.lines)

    @property
    def changed_count(self) -> int:
        """Count the verdicts that change."""
        return sum(line.verdict_changes for line in self.lines)

    def _rolled(self, side: Callable[[Line], Figures]) -> str:
        last = [side(line) for line in self.lines if line.stage == self.lines[-1].stage]
        verdicts = [Verdict(one.verdict) for one in last if one.verdict]
        if any(one.is_rejected for one in last):
            verdicts.append(Verdict.NOT_ACCEPTED)
        return str(roll_up(verdicts)) if verdicts else ""


@dataclass(frozen=True)
class Tried:
    """A draft tried on past sessions: which content, by which rule, on how many of those there are."""

    procedure: str
    revision: int
    content_sha256: str
    rule: str
    draft_rule: str
    asked: int
    past_count: int
    sessions: tuple[SessionTried, ...]

    @property
    def lines(self) -> Iterator[Line]:
        """Give the lines of all sessions."""
        return (line for one in self.sessions for line in one.lines)

    @property
    def result_count(self) -> int:
        """Count the results judged again."""
        return sum(line.is_judged for line in self.lines)

    @property
    def changed_count(self) -> int:
        """Count the verdicts that change."""
        return sum(line.verdict_changes for line in self.lines)

    @property
    def rejection_count(self) -> int:
        """Count the points whose spread would be judged otherwise."""
        return sum(line.rejection_changes for line in self.lines)

    @property
    def refused_count(self) -> int:
        """Count the results that would get no verdict at all."""
        return sum(line.judged == REFUSED for line in self.lines)

    @property
    def unjudged_count(self) -> int:
        """Count the results that the draft does not come to."""
        return sum(line.judged == NOT_JUDGED for line in self.lines)

    @property
    def added_count(self) -> int:
        """Count the results that only the draft comes to."""
        return sum(line.judged == ADDED for line in self.lines)

    @property
    def open_count(self) -> int:
        """Count the sessions that leave a rule of the draft open."""
        return sum(bool(one.open_rules) for one in self.sessions)

    @property
    def other_rule_count(self) -> int:
        """Count the sessions judged by a rule that isn't the draft's."""
        return sum(one.rule != self.draft_rule for one in self.sessions)

    @property
    def largest_U_percent(self) -> float | None:
        """Give the largest change of U in percent, either way; None where no result has one."""
        found = [line.U_percent for line in self.lines if line.U_percent is not None]
        return max(found, key=abs, default=None)

    def dump(self) -> str:
        """Write as the canonical text that is kept."""
        return canonical({"format": FORMAT, **asdict(self)})

    @property
    def sha256(self) -> str:
        """Give the hash of that text: the same draft on the same sessions gives the same."""
        return hash_of(self.dump())


def read_back(text: str) -> Tried:
    """Read what ``dump`` wrote."""
    stored: dict[str, Any] = json.loads(text)
    del stored["format"]
    sessions = tuple(_session(one) for one in stored.pop("sessions"))
    return Tried(**stored, sessions=sessions)


def _session(stored: dict[str, Any]) -> SessionTried:
    lines = tuple(_line(one) for one in stored.pop("lines"))
    return SessionTried(lines=lines, open_rules=tuple(stored.pop("open_rules")), **stored)


def _line(stored: dict[str, Any]) -> Line:
    return Line(then=Figures(**stored.pop("then")), now=Figures(**stored.pop("now")), **stored)
