"""The table of severity: what decides, that Python and the database answer the same, and that a kept row is right."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from instruments.inventory.models import Gauge, GaugeState
from instruments.inventory.operations import add_member, withdraw_member
from instruments.inventory.queries import MasterStep
from instruments.recall import operations as recall
from instruments.recall import queries
from instruments.recall.models import CalibrationEvent, GaugeStanding, Hold, Restriction
from instruments.recall.queries.facts import Facts, Master
from instruments.recall.queries.standing import INDICATION_ONLY, Rank, decide
from labsys.accounts.models import Person
from tests.instruments.recall.conftest import NOW, TODAY, MakeGauge, calibrate

DAY = timedelta(days=1)
State = GaugeState.State


def event(as_left: str = "in_tolerance") -> CalibrationEvent:
    return CalibrationEvent(
        calibrated_on=date(2026, 3, 10),
        recorded_at=datetime(2026, 3, 10, 12, tzinfo=UTC),
        as_left=as_left,
        interval_months=12,
    )


def facts(**changes: Any) -> Facts:
    """A gauge in service and in order, but for ``changes``."""
    own = {name: changes.pop(name) for name in ("calibration_needed", "check_before_use") if name in changes}
    return Facts(
        **{"gauge": Gauge(**own), "on": TODAY, "state": State.IN_SERVICE, "event": event(), **changes}
    )


def hold(kind: Hold.Kind) -> list[Hold]:
    return [Hold(kind=kind, reason="Said to nobody on the floor.")]


restriction = Restriction(text="Outside only.", valid_from=NOW)

# Design, section 5: standing from state, most severe first. Each line alone must decide against all lines below it.
TABLE: list[tuple[Rank, str, dict[str, Any]]] = [
    (Rank.LOST, "stop", {"state": State.LOST}),
    (Rank.SCRAPPED, "stop", {"state": State.SCRAPPED}),
    (Rank.OUT_OF_SERVICE, "stop", {"state": State.OUT_OF_SERVICE}),
    (Rank.NEW, "stop", {"state": State.NEW}),
    (Rank.HELD, "stop", {"holds": hold(Hold.Kind.DAMAGE)}),
    (Rank.OUT_OF_TOLERANCE, "stop", {"holds": hold(Hold.Kind.OUT_OF_TOLERANCE)}),
    (Rank.NOT_PASSED, "stop", {"event": event("out_of_tolerance")}),
    (Rank.ELSEWHERE, "stop", {"state": State.AWAY}),
    (Rank.ELSEWHERE, "stop", {"state": State.ON_LOAN}),
    (Rank.IN_LABORATORY, "stop", {"received_at": NOW}),
    (Rank.NEVER_CALIBRATED, "stop", {"event": None}),
    (Rank.STORED, "stop", {"state": State.STORED}),
    (Rank.MASTER, "stop", {"masters": [Master(MasterStep(1, "R-0012", True), facts(state=State.LOST))]}),
    (Rank.RESTRICTED, "restricted", {"restriction": restriction}),
    (Rank.MEMBERS_WITHDRAWN, "restricted", {"withdrawn_members": ["3.02"]}),
    (Rank.NO_CALIBRATION, "restricted", {"calibration_needed": False}),
    (Rank.CHECK_FIRST, "use", {"check_before_use": True}),
    (Rank.USE, "use", {}),
]


@pytest.mark.parametrize("place", range(len(TABLE)))
def test_the_most_severe_line_decides(place: int) -> None:
    rank, word, own = TABLE[place]
    together: dict[str, Any] = {}
    for _, _, lower in reversed(TABLE[place:]):
        together.update(lower)
    # What contradicts the line itself isn't laid over it: a bad calibration with a later restriction is restricted.
    if rank in (Rank.NOT_PASSED, Rank.ELSEWHERE, Rank.IN_LABORATORY, Rank.NEVER_CALIBRATED, Rank.HELD):
        together.pop("restriction", None)
        together.pop("calibration_needed", None)
    for alone in (own, {**together, **own}):
        answer = decide(facts(**alone))
        assert (answer.rank, answer.word) == (rank, word)


def test_every_rank_but_overdue_is_in_the_table() -> None:
    assert {rank for rank, _, _ in TABLE} == set(Rank) - {Rank.OVERDUE}
    assert {own["state"] for _, _, own in TABLE if "state" in own} == set(State) - {State.IN_SERVICE}


def test_the_floor_is_told_the_kind_of_a_hold_and_never_its_text() -> None:
    for kind in Hold.Kind:
        assert "nobody" not in decide(facts(holds=hold(kind))).reason


def test_all_restrictions_stand_together() -> None:
    answer = decide(
        facts(restriction=restriction, withdrawn_members=["3.02", "3.05"], calibration_needed=False)
    )
    assert answer.restriction == f"Outside only. Not the members 3.02, 3.05. {INDICATION_ONLY}"
    assert answer.valid_until is None
    many = decide(facts(withdrawn_members=[f"{n / 100:.2f}" for n in range(300)]))
    assert many.restriction == "Some members are withdrawn: ask for the list."


def test_a_gauge_is_valid_through_its_due_day_and_overdue_after_it(gauge: Gauge) -> None:
    due = gauge.standing.valid_until
    assert due == date(2027, 3, 10)
    assert queries.standing(gauge, due).word == "use"
    late = queries.standing(gauge, due + DAY)
    assert (late.word, late.reason, late.mark) == ("stop", "was due on 2027-03-10", "do_not_use")


def test_a_more_severe_reason_is_given_before_overdue(gauge: Gauge, people: dict[str, Person]) -> None:
    recall.report_damage(gauge=gauge, what="Dropped.", by=people["floor"], now=NOW)
    assert queries.standing(gauge, date(2028, 1, 1)).reason == "reported damage"


def test_a_gauge_nobody_derived_a_standing_for_is_not_used(make_gauge: MakeGauge) -> None:
    gauge = make_gauge()
    GaugeStanding.objects.all().delete()
    assert queries.standing(gauge, TODAY).word == "stop"
    assert queries.with_standing(Gauge.objects.all(), TODAY).get().word_today == "stop"


def test_standing_as_of_an_earlier_day_is_what_it_was(gauge: Gauge, people: dict[str, Person]) -> None:
    found = recall.set_hold(gauge=gauge, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=NOW)
    recall.lift_hold(hold=found, reason="Answered.", by=people["manager"], now=NOW + 2 * DAY)
    at = {day: queries.derive(gauge, NOW + day * DAY).word for day in (-1, 0, 1, 2)}
    assert at == {-1: "use", 0: "stop", 1: "stop", 2: "use"}


def test_a_withdrawn_member_restricts_the_set(gauge: Gauge, people: dict[str, Person]) -> None:
    member = add_member(gauge=gauge, label="3.02", nominal_mm=None, by=people["manager"], now=NOW)
    withdraw_member(member=member, reason="Burr.", by=people["manager"], now=NOW)
    recall.refresh_standing(gauge, NOW)
    answer = queries.standing(gauge, TODAY)
    assert (answer.word, answer.restriction) == ("restricted", "Not the members 3.02.")


ROWS = st.lists(
    st.fixed_dictionaries(
        {
            "rank": st.sampled_from([rank for rank in Rank if rank != Rank.OVERDUE]),
            "valid_until": st.none() | st.integers(-2, 2).map(lambda days: TODAY + days * DAY),
            "master_until": st.none() | st.integers(-2, 2).map(lambda days: TODAY + days * DAY),
            "needs_check": st.booleans(),
            "checked_on": st.none() | st.integers(-1, 1).map(lambda days: TODAY + days * DAY),
        }
    ),
    min_size=1,
    max_size=12,
)


def _word(rank: Rank) -> str:
    return "stop" if rank <= Rank.MASTER else "restricted" if rank <= Rank.NO_CALIBRATION else "use"


@pytest.fixture
def twelve(make_gauge: MakeGauge) -> list[Gauge]:
    return [make_gauge(calibrated_on=None) for _ in range(12)]


@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(rows=ROWS)
def test_the_database_answers_what_python_answers(twelve: list[Gauge], rows: list[dict[str, Any]]) -> None:
    GaugeStanding.objects.all().delete()
    GaugeStanding.objects.bulk_create(
        GaugeStanding(
            gauge=gauge, word=_word(row["rank"]), reason="", state=State.IN_SERVICE, derived_at=NOW, **row
        )
        for gauge, row in zip(twelve, rows, strict=False)
    )
    answers = dict(queries.with_standing(Gauge.objects.all(), TODAY).values_list("pk", "word_today"))
    kept = GaugeStanding.objects.in_bulk()
    assert answers == {gauge.pk: queries.read(kept.get(gauge.pk), TODAY).word for gauge in twelve}


def test_every_act_leaves_the_row_that_derive_would_make(gauge: Gauge, people: dict[str, Person]) -> None:
    """The row is never behind the facts: after each act it equals a fresh derivation."""
    manager, hour = people["manager"], timedelta(hours=1)
    data = recall.RestrictionData(text="Outside only.")
    acts: list[Any] = [
        lambda now: recall.set_hold(gauge=gauge, kind=Hold.Kind.OTHER, reason="Asked.", by=manager, now=now),
        lambda now: recall.lift_hold(hold=gauge.holds.latest("pk"), reason="Answered.", by=manager, now=now),
        lambda now: recall.restrict(gauge=gauge, data=data, reason="Worn.", by=manager, now=now),
        lambda now: recall.lift_restriction(gauge=gauge, reason="Repaired.", by=manager, now=now),
        lambda now: recall.assign_interval(gauge=gauge, months=11, reason="Drifts.", by=manager, now=now),
        lambda now: recall.extend(gauge=gauge, to_on=date(2027, 2, 20), reason="Busy.", by=manager, now=now),
        lambda now: recall.record_use_check(gauge=gauge, good=True, by=manager, now=now),
        lambda now: recall.report_damage(gauge=gauge, what="Dropped.", by=manager, now=now),
        lambda now: calibrate(gauge, now, by=manager),
        lambda now: recall.change_state(gauge=gauge, state="stored", reason="Spare.", by=manager, now=now),
    ]
    for number, act in enumerate(acts):
        now = NOW + number * hour
        act(now)
        row, fresh = GaugeStanding.objects.get(pk=gauge.pk), queries.derive(gauge, now)
        assert {name: getattr(row, name) for name in vars(fresh)} == vars(fresh), number
