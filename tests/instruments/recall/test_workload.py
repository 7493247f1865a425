"""The rule of weeks: what stands where, against sums done by hand; and what is late, by department, and waits."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from instruments.inventory.models import CustodyEvent
from instruments.inventory.operations import record_custody
from instruments.recall import operations as recall
from instruments.recall.models import Hold
from instruments.recall.queries.sentence import sentence
from instruments.recall.queries.waiting import Waiting, register_waiting, waiting
from instruments.recall.queries.whereabouts import whereabouts
from instruments.recall.queries.workload import Load, Week, by_department, in_week, late, week_of, weeks
from labsys.accounts.models import Person
from labsys.laboratory.models import Place
from labsys.laboratory.operations import add_department, set_capacity
from labsys.laboratory.queries import start_of_day
from labsys.pages.tables import Count
from tests.instruments.recall.conftest import NOW, TODAY, MakeGauge

People = dict[str, Person]
DAY, WEEK = timedelta(days=1), timedelta(weeks=1)
HOURS = Decimal("0.75")  # of one caliper, as the fixture says


@pytest.fixture
def due(make_gauge: MakeGauge) -> MakeGauge:
    """Make a gauge due on a day (not the 29th to 31st of a month)."""
    return lambda day, **fields: make_gauge(calibrated_on=day.replace(year=day.year - 1), **fields)


@pytest.fixture
def capacity(people: People) -> None:
    set_capacity(
        hours_per_week=Decimal(2),
        valid_from=NOW - WEEK,
        reason="As staffed.",
        by=people["manager"],
        now=NOW - WEEK,
    )


def by_index(today: date = TODAY) -> dict[int, Week]:
    return {week.index: week for week in weeks(today)}


def test_work_stands_in_the_week_it_falls_due(due: MakeGauge, capacity: None) -> None:
    for day in (TODAY, TODAY + 6 * DAY, date(2026, 12, 1), date(2027, 2, 14), date(2027, 2, 15)):
        due(day)
    found = by_index()
    assert set(found) == set(range(-4, 12))
    assert found[0].monday == TODAY == date(2026, 11, 23)
    counts = {index: week.due.count for index, week in found.items() if week.due.count}
    # The last of the twelve weeks ends on Sunday 2027-02-14.
    assert counts == {0: 2, 1: 1, 11: 1}
    assert found[1].due.hours == found[1].needs == HOURS
    assert found[1].excess == 0


def test_late_work_stands_to_the_left_by_weeks(due: MakeGauge) -> None:
    for days in (1, 7, 8, 20, 24, 60, 200):
        due(TODAY - days * DAY)
    counts = {index: week.due.count for index, week in by_index().items() if week.due.count}
    assert counts == {-1: 2, -2: 1, -3: 1, -4: 3}


def test_a_called_in_gauge_stands_where_it_is_to_be_brought(due: MakeGauge, people: People) -> None:
    early, past = due(date(2027, 1, 14)), due(date(2027, 1, 15))
    recall.call_in(gauges=[early], bring_by=TODAY + WEEK, by=people["manager"], now=NOW)
    recall.call_in(gauges=[past], bring_by=TODAY, by=people["manager"], now=NOW)
    found = by_index()
    assert (found[1].called, found[0].called) == (Load(1, HOURS), Load(1, HOURS))
    assert sum(week.due.count for week in found.values()) == 0
    # Not brought on its day: it is still to come, in the week that runs.
    later = {week.index: week for week in weeks(TODAY + 2 * WEEK)}
    assert later[0].called.count == 2


def test_what_is_here_stands_in_this_week_and_only_there(
    due: MakeGauge, people: People, bench: Place
) -> None:
    gauge = due(date(2027, 1, 14))
    recall.call_in(gauges=[gauge], bring_by=TODAY + WEEK, by=people["manager"], now=NOW)
    recall.receive(
        gauge=gauge, condition="Clean.", damaged=False, place=bench, at=NOW, by=people["technician"], now=NOW
    )
    counts = {i: (week.due.count, week.called.count) for i, week in by_index().items() if week.needs}
    assert counts == {0: (0, 1)}


def test_what_is_not_recalled_needs_no_hours(due: MakeGauge, people: People) -> None:
    for state in ("stored", "lost", "scrapped", "out-of-service", "away"):
        recall.change_state(gauge=due(TODAY), state=state, reason="So.", by=people["manager"], now=NOW)
    assert all(week.needs == 0 for week in weeks(TODAY))


def test_this_week_has_only_the_working_days_that_are_left(people: People, capacity: None) -> None:
    left = {day.weekday(): weeks(day)[4].capacity for day in (TODAY + n * DAY for n in range(7))}
    assert left == {n: Decimal(2) * max(5 - n, 0) / 5 for n in range(7)}
    assert weeks(TODAY + 6 * DAY)[5].capacity == 2


def test_capacity_steps_where_it_was_changed(people: People, capacity: None) -> None:
    set_capacity(
        hours_per_week=Decimal(1),
        valid_from=start_of_day(TODAY + 3 * WEEK),
        reason="Holidays.",
        by=people["manager"],
        now=NOW,
    )
    # What is known today of a day to come is a row that is on record but not valid yet.
    found = by_index()
    assert [found[i].capacity for i in (2, 3)] == [Decimal(2), Decimal(1)]


def test_the_lists_behind_the_weeks_hold_each_gauge_once(due: MakeGauge) -> None:
    days = [*range(-40, 84, 3)]
    made = [due(day) for day in (TODAY + n * DAY for n in days) if day.day <= 28]
    listed = [row.pk for index in range(-4, 12) for row in in_week(index, TODAY)]
    assert sorted(listed) == sorted(gauge.pk for gauge in made)
    for index in range(-4, 12):
        assert all(
            week_of(row.valid_until, TODAY) == index for row in in_week(index, TODAY) if row.valid_until
        )
        assert in_week(index, TODAY).count() == by_index()[index].due.count


@pytest.mark.parametrize(
    ("loads", "said"),
    [
        ([(0, 3, 2)], "14 late. Week 48 needs 3 h, the bench has 2 h."),
        ([(0, 2, 2), (1, 31, 24)], "14 late. Week 49 needs 31 h, the bench has 24 h."),
        ([(0, 2, 2), (1, 2, 2)], "14 late. The bench can do what is due in all 2 weeks."),
        ([(0, 2, 0)], "14 late. Nobody has said how many hours a week the bench has."),
        ([(-1, 9, 0), (0, "0.75", 2)], "14 late. The bench can do what is due in all 1 weeks."),
    ],
)
def test_one_sentence_says_what_presses(loads: list[tuple[int, str, int]], said: str) -> None:
    found = [
        Week(index, TODAY + index * WEEK, Decimal(has), due=Load(1, Decimal(needs)))
        for index, needs, has in loads
    ]
    assert sentence(found, Count(14)) == said


def test_late_ones_come_latest_first_with_where_and_why(due: MakeGauge, people: People, bench: Place) -> None:
    called, missed, here, away, held, free = (due(TODAY - n * DAY) for n in range(9, 3, -1))
    manager = people["manager"]
    recall.call_in(gauges=[missed], bring_by=TODAY - 2 * DAY, by=manager, now=NOW - 4 * DAY)
    recall.call_in(gauges=[called], bring_by=TODAY + DAY, by=manager, now=NOW)
    recall.receive(gauge=here, condition="Clean.", damaged=False, place=bench, at=NOW, by=manager, now=NOW)
    recall.change_state(gauge=away, state="away", reason="To the maker.", by=manager, now=NOW)
    recall.set_hold(gauge=held, kind=Hold.Kind.OTHER, reason="Asked.", by=manager, now=NOW)
    rows = list(late(TODAY))
    assert [row.gauge for row in rows] == [called, missed, here, away, held, free]
    said = [found.sentence for found in whereabouts(rows, TODAY).values()]
    assert said == [
        f"called in by {TODAY + DAY}",
        f"called in by {TODAY - 2 * DAY}, not brought",
        "in the laboratory",
        "at an outside laboratory",
        "in use, not called in, on hold",
        "in use, not called in",
    ]


def test_this_week_is_summed_by_department(due: MakeGauge, people: People) -> None:
    milling = add_department(code="MILL", name="Milling", contact="", by=people["manager"], now=NOW)
    due(TODAY + DAY)
    due(TODAY + 2 * DAY)
    brought = due(date(2027, 2, 1), department=milling)
    recall.call_in(gauges=[brought], bring_by=TODAY + DAY, by=people["manager"], now=NOW)
    due(TODAY + 8 * DAY, department=milling)
    rows = [(row.department, row.due, row.called, row.hours) for row in by_department(TODAY)]
    assert rows == [("Milling", 0, 1, HOURS), ("Turning shop", 2, 0, 2 * HOURS)]


def test_what_waits_is_listed_longest_first_with_whom_it_waits_for(
    make_gauge: MakeGauge, people: People, bench: Place
) -> None:
    part, away, held = make_gauge(), make_gauge(), make_gauge()
    technician, manager = people["technician"], people["manager"]
    came = NOW - 5 * DAY
    recall.receive(
        gauge=part, condition="Clean.", damaged=False, place=bench, at=came, by=technician, now=came
    )
    step: dict[str, Any] = {"place": bench, "by": technician}
    record_custody(gauge=part, kind=CustodyEvent.Kind.WAITING, waits_for="part", at=came, now=came, **step)
    recall.change_state(gauge=away, state="away", reason="Maker.", by=manager, now=NOW - 2 * DAY)
    recall.set_hold(gauge=held, kind=Hold.Kind.DAMAGE, reason="Dropped.", by=manager, now=NOW - DAY)
    register_waiting("of a test", lambda now: [Waiting("Session 7", "the reviewer", now - 3 * DAY)])
    try:
        found = [(one.what, one.waits_for, one.since_at) for one in waiting(NOW)]
    finally:
        register_waiting("of a test", lambda now: [])
    assert found == [
        (str(part), "a part", came),
        ("Session 7", "the reviewer", NOW - 3 * DAY),
        (str(away), "an outside laboratory", NOW - 2 * DAY),
        (f"{held}, reported damage", "a decision on its hold", NOW - DAY),
    ]
    record_custody(gauge=part, kind=CustodyEvent.Kind.ON_BENCH, waits_for="", at=NOW, now=NOW, **step)
    assert str(part) not in [one.what for one in waiting(NOW)]


def test_the_queries_of_the_rule_do_not_grow_with_the_gauges(
    due: MakeGauge, django_assert_max_num_queries: Any
) -> None:
    for number in range(12):
        due(TODAY + (number + 1) * DAY)
    with django_assert_max_num_queries(16):
        weeks(TODAY)
