"""What the shop floor may do with a gauge: the table of severity, in this one place.

``derive`` makes the standing from the facts; ``read`` turns the kept row into today's answer; ``with_standing`` says
the same in SQL. Only three things are decided by the day: overdue, a setting master overdue, and whether today's
check was recorded. What a master's own check before use says stays with the master.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import IntEnum
from typing import Any

from django.db.models import Case, CharField, F, Q, QuerySet, Value, When

from instruments.inventory.models import Gauge, GaugeState
from instruments.recall.models import CalibrationEvent, GaugeStanding, Hold, VerdictWord
from instruments.recall.queries.due import due_of
from instruments.recall.queries.facts import Facts, gather

Word = GaugeStanding.Word


class Rank(IntEnum):
    """The order of severity; what stands first decides."""

    LOST = 0
    SCRAPPED = 1
    OUT_OF_SERVICE = 2
    NEW = 3
    HELD = 4
    OUT_OF_TOLERANCE = 5
    NOT_PASSED = 6
    ELSEWHERE = 7
    IN_LABORATORY = 8
    NEVER_CALIBRATED = 9
    OVERDUE = 10  # by the day alone, so never kept in a row
    STORED = 11
    MASTER = 12  # a setting master behind it may not be used
    RESTRICTED = 13
    MEMBERS_WITHDRAWN = 14
    NO_CALIBRATION = 15
    CHECK_FIRST = 16
    USE = 17


RECALL_RESTS = (
    GaugeState.State.LOST,
    GaugeState.State.SCRAPPED,
    GaugeState.State.OUT_OF_SERVICE,
    GaugeState.State.STORED,
)
"""Service states in which a gauge isn't called back: nothing is planned, nobody is reminded."""

PASSING = (VerdictWord.IN_TOLERANCE, VerdictWord.CONDITIONAL_INSIDE)
"""Verdicts as left with which a gauge may be used."""

_BY_STATE: dict[str, tuple[Rank, str]] = {
    GaugeState.State.LOST: (Rank.LOST, "lost"),
    GaugeState.State.SCRAPPED: (Rank.SCRAPPED, "scrapped"),
    GaugeState.State.OUT_OF_SERVICE: (Rank.OUT_OF_SERVICE, "out of service"),
    GaugeState.State.NEW: (Rank.NEW, "new and not accepted yet"),
    GaugeState.State.AWAY: (Rank.ELSEWHERE, "at an outside laboratory"),
    GaugeState.State.ON_LOAN: (Rank.ELSEWHERE, "on loan; to be verified when it is back"),
    GaugeState.State.STORED: (Rank.STORED, "stored; to be taken into service first"),
}
INDICATION_ONLY = "Indication only, not for acceptance."


@dataclass(frozen=True)
class Derived:
    """What the row of a gauge must say: everything but what the day decides."""

    rank: Rank
    word: str
    reason: str
    valid_until: date | None
    master_until: date | None
    master_named: str
    restriction: str
    needs_check: bool
    checked_on: date | None
    state: str
    in_laboratory: bool


@dataclass(frozen=True)
class Standing:
    """Today's answer: the word, its label for people, why, until when, and what it is restricted to.

    ``valid_until`` is the last day of use: the gauge's own due date, ``due_on``, or its setting master's where that
    comes first.
    """

    word: str
    label: str
    reason: str
    valid_until: date | None
    restriction: str
    needs_check: bool
    due_on: date | None = None

    @property
    def mark(self) -> str:
        """Give the name of the picture that goes with the word."""
        return {Word.USE: "use", Word.RESTRICTED: "use_with_restriction"}.get(Word(self.word), "do_not_use")


def derive(gauge: Gauge, now: datetime) -> Derived:
    """Derive the standing of one gauge as of ``now`` from its state, holds, calibration, custody and restrictions."""
    return decide(gather([gauge], now)[gauge.pk])


def decide(facts: Facts) -> Derived:
    """Walk the table of severity over the facts; the most severe finding decides."""
    rank, reason = min([*_findings(facts), *_master_stops(facts)])
    master_until, master_named = _first_master_due(facts)
    return Derived(
        rank=rank,
        word=_word(rank),
        reason=reason,
        valid_until=_own_due(facts),
        master_until=master_until,
        master_named=master_named,
        restriction=_restriction(facts),
        needs_check=facts.gauge.check_before_use,
        checked_on=facts.checked_on,
        state=facts.state,
        in_laboratory=facts.received_at is not None,
    )


def _word(rank: Rank) -> str:
    if rank <= Rank.MASTER:
        return Word.STOP
    return Word.RESTRICTED if rank <= Rank.NO_CALIBRATION else Word.USE


def _own_due(facts: Facts) -> date | None:
    return due_of(facts) if facts.gauge.calibration_needed else None


def _findings(facts: Facts) -> list[tuple[Rank, str]]:
    return [*_stops(facts), *_limits(facts)]


def _master_stops(facts: Facts) -> list[tuple[Rank, str]]:
    """Say which master may not be used by what is known of itself; of several the nearest, paired first, is named."""
    for master in facts.masters:
        rank, reason = min(_findings(master.facts))
        if _word(rank) == Word.STOP:
            return [(Rank.MASTER, f"{master.named} may not be used: {reason}")]
    return []


def _first_master_due(facts: Facts) -> tuple[date | None, str]:
    dated = [(due, master.named) for master in facts.masters if (due := _own_due(master.facts)) is not None]
    return min(dated, key=lambda pair: pair[0], default=(None, ""))


def _stops(facts: Facts) -> list[tuple[Rank, str]]:
    found = [_BY_STATE[facts.state]] if facts.state in _BY_STATE else []
    for hold in facts.holds:
        rank = Rank.OUT_OF_TOLERANCE if hold.kind == Hold.Kind.OUT_OF_TOLERANCE else Rank.HELD
        # The floor page is open to everybody, so the kind is named and the free text is not.
        found.append((rank, "on hold" if hold.kind == Hold.Kind.OTHER else hold.get_kind_display()))
    if facts.received_at is not None:
        found.append((Rank.IN_LABORATORY, "in the laboratory"))
    if facts.gauge.calibration_needed:
        found.extend(_calibration_stops(facts))
    return found


def _calibration_stops(facts: Facts) -> list[tuple[Rank, str]]:
    if facts.event is None:
        return [(Rank.NEVER_CALIBRATED, "no calibration on record")]
    if passes(facts.event) or restricted_since(facts):
        return []
    return [(Rank.NOT_PASSED, f"last calibration: {facts.event.get_as_left_display()}")]


def passes(event: CalibrationEvent) -> bool:
    """Say whether the gauge left that calibration fit for use."""
    return event.as_left in PASSING


def restricted_since(facts: Facts) -> bool:
    """Say whether a restriction was decided after the last calibration, in view of what it found."""
    if facts.event is None or facts.restriction is None:
        return False
    return bool(facts.restriction.valid_from >= facts.event.recorded_at)


def _limits(facts: Facts) -> list[tuple[Rank, str]]:
    found = [(Rank.USE, "")]
    if facts.restriction is not None:
        found.append((Rank.RESTRICTED, "restricted"))
    if facts.withdrawn_members:
        found.append((Rank.MEMBERS_WITHDRAWN, "some members are withdrawn"))
    if not facts.gauge.calibration_needed:
        found.append((Rank.NO_CALIBRATION, "no calibration required"))
    if facts.gauge.check_before_use:
        found.append((Rank.CHECK_FIRST, "checked today"))
    return found


def _restriction(facts: Facts) -> str:
    parts = [facts.restriction.text] if facts.restriction else []
    if facts.withdrawn_members:
        parts.append(f"Not the members {', '.join(facts.withdrawn_members)}.")
    if not facts.gauge.calibration_needed:
        parts.append(INDICATION_ONLY)
    text = " ".join(parts)
    # A set with hundreds of withdrawn pins doesn't fit the box; where the list is, does.
    return text if len(text) <= 300 else "Some members are withdrawn: ask for the list."


def read(row: GaugeStanding | None, today: date) -> Standing:
    """Turn the kept row into the answer for ``today``; a gauge without a row is new and not accepted yet."""
    if row is None:
        return _say(Word.STOP, "new and not accepted yet")
    word, reason = row.word, row.reason
    if row.rank > Rank.OVERDUE and row.valid_until is not None and row.valid_until < today:
        word, reason = Word.STOP, f"was due on {row.valid_until:%Y-%m-%d}"
    elif row.rank > Rank.MASTER and row.master_until is not None and row.master_until < today:
        word, reason = Word.STOP, f"{row.master_named} is past due since {row.master_until:%Y-%m-%d}"
    elif word != Word.STOP and row.needs_check and row.checked_on != today:
        word, reason = Word.STOP, "to be checked before use; no check is recorded today"
    until = min((day for day in (row.valid_until, row.master_until) if day is not None), default=None)
    due_on = row.valid_until
    return Standing(word, Word(word).label, reason, until, row.restriction, row.needs_check, due_on)


def _say(word: str, reason: str) -> Standing:
    return Standing(word, Word(word).label, reason, None, "", False)


def standing(gauge: Gauge, today: date) -> Standing:
    """Give what may be done with ``gauge`` on ``today``, from its kept row."""
    return read(GaugeStanding.objects.filter(pk=gauge.pk).first(), today)


def with_standing(queryset: QuerySet[Gauge], today: date) -> QuerySet[Any]:
    """Annotate gauges with ``word_today``, the same answer as ``standing`` gives, computed by the database."""
    stop = Value(Word.STOP.value)
    unchecked = Q(standing__needs_check=True) & (
        Q(standing__checked_on=None) | ~Q(standing__checked_on=today)
    )
    answer: Any = Case(
        When(standing=None, then=stop),
        When(standing__word=Word.STOP, then=stop),
        When(standing__valid_until__lt=today, then=stop),
        When(standing__master_until__lt=today, then=stop),
        When(unchecked, then=stop),
        default=F("standing__word"),
        output_field=CharField(),
    )
    return queryset.annotate(word_today=answer)
