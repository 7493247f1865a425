"""One digest per person and day; told once, caught up with after days off; nobody forgotten in silence."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from instruments.inventory.models import Gauge
from instruments.recall import operations as recall
from instruments.reminders.audience import key_of
from instruments.reminders.models import Reminder, ReminderDay
from instruments.reminders.operations import DayAlreadyPlanned, is_open, plan_day
from instruments.reminders.queries import STAGES
from instruments.reminders.tasks import REMINDERS, plan_reminders
from instruments.tasks import SCHEDULE
from labsys.accounts.models import Person
from labsys.celery import app
from labsys.jobs.models import JobRun, Notice
from labsys.laboratory.models import Department
from labsys.laboratory.operations import AgreementTerms, agree
from tests.instruments.recall.conftest import NOW, TODAY, MakeGauge

People = dict[str, Person]
DAY = timedelta(days=1)


def plan(day: date) -> ReminderDay:
    return plan_day(by=REMINDERS, now=datetime(day.year, day.month, day.day, 7, tzinfo=UTC))


def told(address: str, day: date = TODAY) -> str:
    """Give the digest somebody got on a day, or nothing."""
    return "\n".join(Notice.objects.filter(address=address, period=f"{day}").values_list("body", flat=True))


def due_on(make_gauge: MakeGauge, day: date, **fields: Any) -> Gauge:
    """Make a gauge that is due on a day (not the 29th to 31st)."""
    return make_gauge(calibrated_on=day.replace(year=day.year - 1), **fields)


FLOOR, MANAGER, LEAD = "floor@plant.example", "manager@plant.example", "lead@plant.example"


@pytest.fixture
def agreed(people: People, model: Any, turning: Department) -> None:
    agree(
        department=turning,
        family=model.family,
        terms=AgreementTerms(
            rule={"kind": "simple", "min_ratio": 4, "view": "test_value"},
            recipients=[LEAD, "Floor@plant.example"],
        ),
        agreed_by="the shift lead",
        valid_from=NOW - 900 * DAY,
        by=people["manager"],
        now=NOW - 900 * DAY,
    )


@pytest.mark.parametrize("stage", STAGES)
def test_each_distance_is_told_on_its_day_and_to_whom_it_concerns(
    make_gauge: MakeGauge,
    agreed: None,
    stage: int,
) -> None:
    due = date(2026, 11, 20)
    gauge = due_on(make_gauge, due)
    earlier = [Reminder(gauge=gauge, about="due", on=due, stage=s, told_on=due) for s in STAGES if s < stage]
    Reminder.objects.bulk_create(earlier)
    plan(due + (stage - 1) * DAY)
    assert not Notice.objects.exists()
    plan(due + stage * DAY)
    got = set(Notice.objects.values_list("address", flat=True))
    assert got == {FLOOR} | ({LEAD} if stage >= 0 else set()) | ({MANAGER} if stage > 0 else set())
    assert gauge.tag.text in told(FLOOR, due + stage * DAY)


def test_every_day_of_a_year_tells_each_distance_once(make_gauge: MakeGauge) -> None:
    due = date(2026, 11, 20)
    due_on(make_gauge, due)
    for distance in range(-40, 41):
        plan(due + distance * DAY)
    days = Notice.objects.filter(address=FLOOR).order_by("period").values_list("period", flat=True)
    assert list(days) == [f"{due + stage * DAY}" for stage in STAGES]


def test_after_days_off_everything_is_told_once_at_its_present_distance(make_gauge: MakeGauge) -> None:
    late, soon = due_on(make_gauge, TODAY - 2 * DAY), due_on(make_gauge, date(2026, 12, 4))
    plan(TODAY - 40 * DAY)
    plan(TODAY)  # nothing ran for forty days
    (row,) = Notice.objects.filter(address=FLOOR)
    assert row.title == "Gauges: 1 late, 1 due"
    assert row.body.count(late.tag.text) == row.body.count(soon.tag.text) == 1
    assert f"{late.tag.text}, caliper, Turning shop, Lathe 4: due 2026-11-21, 2 days ago" in row.body
    assert f"{soon.tag.text}, caliper, Turning shop, Lathe 4: due 2026-12-04, in 11 days" in row.body
    # The distances passed over are told with it, not after it.
    assert set(late.reminders.values_list("stage", flat=True)) == {-30, -14, -7, -1, 0, 1}
    plan(TODAY + DAY)
    assert Notice.objects.filter(address=FLOOR).count() == 1


def test_one_digest_holds_all_of_a_persons_gauges(make_gauge: MakeGauge, agreed: None) -> None:
    """The agreed address that is the custodian's own makes no second message."""
    gauges = [due_on(make_gauge, TODAY) for _ in range(3)]
    plan(TODAY)
    assert sorted(Notice.objects.values_list("address", flat=True)) == [FLOOR, LEAD]
    assert all(gauge.tag.text in told(FLOOR) for gauge in gauges)


def test_long_addresses_are_never_taken_for_one_another() -> None:
    long = "a" * 60
    keys = {key_of(f"{long}{end}@plant.example") for end in ("1", "2")}
    assert len(keys) == 2 and all(len(key) <= 64 for key in keys)
    assert key_of("Lead@Plant.example") == "address:lead@plant.example"


def test_the_same_day_is_planned_once(make_gauge: MakeGauge) -> None:
    due_on(make_gauge, TODAY)
    assert is_open(NOW)
    plan(TODAY)
    assert not is_open(NOW)
    with pytest.raises(DayAlreadyPlanned):
        plan(TODAY)
    assert (Notice.objects.count(), ReminderDay.objects.get().notices) == (1, 1)


def test_nobody_is_written_to_in_the_night(settings: Any, db: None) -> None:
    settings.LAB_ZONE = "Europe/Vienna"
    assert not is_open(datetime(2026, 11, 25, 4, 59, tzinfo=UTC))
    assert is_open(datetime(2026, 11, 25, 5, 0, tzinfo=UTC))


def test_what_is_not_recalled_is_not_reminded(make_gauge: MakeGauge, people: People, bench: Any) -> None:
    manager = people["manager"]
    for state in ("stored", "lost", "out-of-service", "away"):
        gauge = due_on(make_gauge, TODAY)
        recall.change_state(gauge=gauge, state=state, reason="So it is.", by=manager, now=NOW - DAY)
    here = due_on(make_gauge, TODAY)
    recall.receive(
        gauge=here, condition="Clean.", damaged=False, place=bench, at=NOW - DAY, by=manager, now=NOW - DAY
    )
    due_on(make_gauge, TODAY, calibration_needed=False, no_calibration_reason="Indication only.")
    plan(TODAY)
    assert not Notice.objects.exists()


def test_a_new_due_date_is_told_anew(make_gauge: MakeGauge, people: People) -> None:
    gauge = due_on(make_gauge, date(2026, 12, 4))
    plan(TODAY)
    recall.extend(gauge=gauge, to_on=date(2026, 12, 18), reason="A run.", by=people["manager"], now=NOW)
    plan(TODAY + DAY)
    assert "due 2026-12-18, in 24 days" in told(FLOOR, TODAY + DAY)


def test_a_call_in_is_told_next_and_once_more_when_its_day_has_passed(
    make_gauge: MakeGauge,
    people: People,
) -> None:
    gauge = make_gauge()
    recall.call_in(gauges=[gauge], bring_by=TODAY + 2 * DAY, by=people["manager"], now=NOW)
    for distance in range(6):
        plan(TODAY + distance * DAY)
    assert list(Notice.objects.filter(address=FLOOR).order_by("period").values_list("period", flat=True)) == [
        f"{TODAY}",
        f"{TODAY + 3 * DAY}",
    ]
    assert "Called in: please bring (1)" in told(FLOOR)
    assert "Called in and not brought (1)" in told(MANAGER, TODAY + 3 * DAY)


def test_a_withdrawn_or_answered_call_in_is_not_told(
    make_gauge: MakeGauge,
    people: People,
    bench: Any,
) -> None:
    withdrawn, answered = make_gauge(), make_gauge()
    manager = people["manager"]
    outcome = recall.call_in(gauges=[withdrawn, answered], bring_by=TODAY, by=manager, now=NOW - DAY)
    call = next(row for row in outcome.called if row.gauge_id == withdrawn.pk)
    recall.withdraw_call_in(call=call, reason="Needed.", by=manager, now=NOW - DAY)
    recall.receive(
        gauge=answered,
        condition="Clean.",
        damaged=False,
        place=bench,
        at=NOW - DAY,
        by=manager,
        now=NOW - DAY,
    )
    plan(TODAY)
    assert not Notice.objects.exists()


def test_a_gauge_whose_custodian_cannot_be_written_to_goes_to_the_department(
    make_gauge: MakeGauge,
    people: People,
    agreed: None,
) -> None:
    Person.objects.filter(pk=people["floor"].pk).update(is_active=False)
    due_on(make_gauge, date(2026, 12, 4))
    plan(TODAY)
    assert set(Notice.objects.values_list("address", flat=True)) == {LEAD, "Floor@plant.example"}


def test_a_gauge_nobody_can_be_told_about_is_named_to_the_manager(
    make_gauge: MakeGauge,
    people: People,
) -> None:
    gauge = due_on(make_gauge, date(2026, 12, 4), custodian=None)
    plan(TODAY)
    assert set(Notice.objects.values_list("address", flat=True)) == {MANAGER}
    assert "Nobody else could be told by mail about (1)" in told(MANAGER)
    assert told(MANAGER).count(gauge.tag.text) == 1


def test_what_cannot_be_told_to_anybody_waits_until_it_can(
    make_gauge: MakeGauge,
    people: People,
) -> None:
    due_on(make_gauge, date(2026, 12, 4), custodian=None)
    Person.objects.update(email="")
    plan(TODAY)
    assert not Reminder.objects.exists()
    Person.objects.filter(pk=people["manager"].pk).update(email=MANAGER)
    plan(TODAY + DAY)
    assert told(MANAGER, TODAY + DAY)


def test_a_long_list_is_cut_and_says_so(
    make_gauge: MakeGauge,
    people: People,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("instruments.reminders.wording.MOST_LINES", 2)
    for _ in range(5):
        due_on(make_gauge, TODAY)
    plan(TODAY)
    assert "  and 3 more" in told(FLOOR)


def test_how_many_queries_a_day_takes_does_not_grow_with_the_gauges(
    make_gauge: MakeGauge,
    django_assert_num_queries: Any,
    people: People,
) -> None:
    counts = []
    for day in (TODAY, TODAY + DAY):
        for _ in range(4):
            due_on(make_gauge, day)
        with CaptureQueriesContext(connection) as asked:
            plan(day)
        counts.append(len(asked))
    assert counts[1] <= counts[0]


def test_the_clock_plans_the_day_and_records_its_run(
    make_gauge: MakeGauge,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    due_on(make_gauge, TODAY)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    task = app.tasks[SCHEDULE["plan-reminders"]["task"]]
    task()
    task()
    assert task.name == plan_reminders.name
    assert (Notice.objects.count(), JobRun.objects.get().done) == (1, 5)
