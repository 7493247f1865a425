"""What may be done with a gauge follows what may be done with the setting masters behind it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from instruments.inventory import operations as inventory
from instruments.inventory.models import Gauge, Pairing
from instruments.inventory.operations.sets import PairedInACircle
from instruments.recall import operations as recall
from instruments.recall import queries
from instruments.recall.models import GaugeStanding, Hold
from instruments.recall.queries.labels import labels
from labsys.accounts.models import Person
from tests.instruments.recall.conftest import NOW, TODAY, MakeGauge, calibrate

DAY = timedelta(days=1)
People = dict[str, Person]


@pytest.fixture
def master(make_gauge: MakeGauge) -> Gauge:
    """A setting rod in service, due on 2026-12-01: before the gauge, which is due on 2027-03-10."""
    return make_gauge(tag="R-0012", calibrated_on=date(2025, 12, 1))


@pytest.fixture
def pairing(gauge: Gauge, master: Gauge, people: People) -> Pairing:
    return recall.pair(gauge=gauge, master=master, by=people["technician"], now=NOW)


def word_and_reason(gauge: Gauge, on: date = TODAY) -> tuple[str, str]:
    answer = queries.standing(gauge, on)
    listed = queries.with_standing(Gauge.objects.filter(pk=gauge.pk), on).get()
    assert listed.word_today == answer.word
    return answer.word, answer.reason


def test_a_gauge_may_be_used_until_its_master_is_due_and_keeps_its_own_due_date(
    gauge: Gauge, pairing: Pairing
) -> None:
    answer = queries.standing(gauge, TODAY)
    assert (answer.word, answer.valid_until, answer.due_on) == ("use", date(2026, 12, 1), date(2027, 3, 10))
    assert word_and_reason(gauge, date(2026, 12, 1)) == ("use", "")
    late = "its setting master R-0012 is past due since 2026-12-01"
    assert word_and_reason(gauge, date(2026, 12, 2)) == ("stop", late)
    # Once it is late itself, that is said.
    assert word_and_reason(gauge, date(2027, 3, 11)) == ("stop", "was due on 2027-03-10")


def test_a_new_calibration_of_the_master_frees_the_gauge(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    calibrate(master, NOW + 20 * DAY, by=people["manager"])
    assert queries.standing(gauge, date(2026, 12, 20)).valid_until == date(2027, 3, 10)
    assert word_and_reason(gauge, date(2026, 12, 20)) == ("use", "")


def test_what_happens_to_the_master_stands_at_the_gauge_at_once(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    manager = people["manager"]
    recall.report_damage(gauge=master, what="Dropped.", by=people["floor"], now=NOW)
    named = "its setting master R-0012 may not be used: "
    assert word_and_reason(gauge) == ("stop", f"{named}reported damage")
    recall.record_use_check(gauge=master, good=True, by=manager, now=NOW + DAY)
    recall.lift_hold(hold=master.holds.get(), reason="It is straight.", by=manager, now=NOW + DAY)
    assert word_and_reason(gauge) == ("use", "")
    recall.change_state(gauge=master, state="lost", reason="Not found.", by=manager, now=NOW + 2 * DAY)
    assert word_and_reason(gauge) == ("stop", f"{named}lost")


@pytest.mark.parametrize(
    ("as_left", "within", "expected"),
    [
        ("out_of_tolerance", True, "last calibration: out of tolerance"),
        ("in_tolerance", False, "found out of tolerance"),
    ],
)
def test_a_master_out_of_tolerance_blocks_the_pair(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People, as_left: str, within: bool, expected: str
) -> None:
    calibrate(master, NOW + DAY, by=people["manager"], as_left=as_left, as_found_within_limits=within)
    assert word_and_reason(gauge) == ("stop", f"its setting master R-0012 may not be used: {expected}")


def test_a_restricted_master_blocks_nothing_until_it_may_not_be_used(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    manager = people["manager"]
    data = recall.RestrictionData(text="Only with the vee.")
    recall.restrict(gauge=master, data=data, reason="Worn.", by=manager, now=NOW)
    assert word_and_reason(gauge) == ("use", "")
    recall.set_hold(gauge=master, kind=Hold.Kind.OTHER, reason="Asked.", by=manager, now=NOW + DAY)
    assert word_and_reason(gauge) == ("stop", "its setting master R-0012 may not be used: on hold")


def test_the_gauge_s_own_stop_is_named_first(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    manager = people["manager"]
    recall.set_hold(gauge=master, kind=Hold.Kind.OTHER, reason="Asked.", by=manager, now=NOW)
    recall.change_state(gauge=gauge, state="stored", reason="Spare.", by=manager, now=NOW + DAY)
    assert word_and_reason(gauge) == ("stop", "stored; to be taken into service first")
    # The master doesn't keep a stored gauge from being taken out; then it is told why it still may not be used.
    recall.change_state(gauge=gauge, state="in-service", reason="Needed.", by=manager, now=NOW + 2 * DAY)
    assert word_and_reason(gauge) == ("stop", "its setting master R-0012 may not be used: on hold")


def test_parting_frees_the_gauge(gauge: Gauge, master: Gauge, pairing: Pairing, people: People) -> None:
    recall.set_hold(gauge=master, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=NOW)
    assert word_and_reason(gauge)[0] == "stop"
    recall.part(pairing=pairing, reason="Another rod.", by=people["technician"], now=NOW + DAY)
    answer = queries.standing(gauge, TODAY)
    assert (answer.word, answer.valid_until) == ("use", date(2027, 3, 10))
    # As of the day before, it was blocked.
    assert queries.derive(gauge, NOW).word == "stop" and queries.derive(gauge, NOW + DAY).word == "use"


def test_a_gauge_is_stopped_by_a_master_behind_its_master(
    gauge: Gauge, master: Gauge, pairing: Pairing, make_gauge: MakeGauge, people: People
) -> None:
    manager, ring = people["manager"], make_gauge(tag="RING-1")
    recall.pair(gauge=master, master=ring, by=manager, now=NOW)
    recall.set_hold(gauge=ring, kind=Hold.Kind.OTHER, reason="Asked.", by=manager, now=NOW + DAY)
    said = "RING-1, with which its setting master is set, may not be used: on hold"
    assert word_and_reason(gauge) == ("stop", said)
    assert word_and_reason(master) == ("stop", "its setting master RING-1 may not be used: on hold")
    recall.lift_hold(hold=ring.holds.get(), reason="Answered.", by=manager, now=NOW + 2 * DAY)
    assert word_and_reason(gauge) == ("use", "")


def test_a_circle_is_refused_and_one_among_old_rows_ends(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    with pytest.raises(PairedInACircle, match="is itself set with R-0012"):
        recall.pair(gauge=master, master=gauge, by=people["manager"], now=NOW)
    Pairing.objects.create(gauge=master, master=gauge, paired_at=NOW)
    recall.set_hold(gauge=gauge, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=NOW)
    assert word_and_reason(gauge) == ("stop", "on hold")
    tag = gauge.tag.text
    assert word_and_reason(master) == ("stop", f"its setting master {tag} may not be used: on hold")


def test_an_act_of_the_inventory_on_the_master_shows_within_a_minute(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    inventory.change_state(gauge=master, state="lost", reason="Gone.", by=people["manager"], now=NOW + DAY)
    assert word_and_reason(gauge)[0] == "use"
    recall.follow_journal(0, NOW + DAY)
    assert word_and_reason(gauge) == ("stop", "its setting master R-0012 may not be used: lost")


def test_the_nightly_sweep_finds_a_row_that_missed_its_master(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    recall.set_hold(gauge=master, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=NOW)
    right = word_and_reason(gauge)
    GaugeStanding.objects.filter(pk=gauge.pk).update(word="use", rank=17, reason="", master_until=None)
    assert recall.refresh_all(NOW) == (2, 1)
    assert word_and_reason(gauge) == right


def test_a_label_prints_the_gauge_s_own_date_and_none_while_its_master_is_bad(
    gauge: Gauge, master: Gauge, pairing: Pairing, people: People
) -> None:
    assert labels([gauge], NOW)[0].lines == ("Calibrated 2026-03-10", "Scan for validity")
    assert labels([gauge], NOW + 60 * DAY)[0].lines == ("Scan before use.",)
    recall.set_hold(gauge=master, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=NOW)
    assert labels([gauge], NOW)[0].lines == ("Scan before use.",)


def test_pages_and_programs_name_the_master(
    gauge: Gauge, master: Gauge, people: People, client: Client
) -> None:
    now = timezone.now()
    for one in (gauge, master):
        calibrate(one, now - DAY, by=people["manager"])
    client.force_login(people["technician"])
    assert client.post(reverse("gauge-pair", args=[gauge.pk]), {"master": "r-0012"}).status_code == 302
    asked = timezone.now()
    recall.set_hold(gauge=master, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=asked)
    said = "ts setting master R-0012 may not be used: on hold"
    floor = Client().get(reverse("floor", args=[gauge.tag.code])).content.decode()
    page = client.get(reverse("gauge", args=[gauge.pk])).content.decode()
    assert f"I{said}." in floor and f"I{said}." in page
    one = client.get(f"/api/v1/standings/{gauge.tag.text}/").json()
    assert (one["word"], one["reason"]) == ("stop", f"i{said}")
    tags = {row["tag"] for row in client.get("/api/v1/standings/", {"word": "stop"}).json()["results"]}
    assert tags == {gauge.tag.text, "R-0012"}
    part = reverse("gauge-part", args=[Pairing.objects.get().pk])
    assert client.post(part, {"reason": "Another rod."}).status_code == 302
    assert client.get(f"/api/v1/standings/{gauge.tag.text}/").json()["word"] == "use"


def test_masters_cost_two_queries_more_however_many_gauges(
    gauge: Gauge, master: Gauge, make_gauge: MakeGauge, people: People, django_assert_num_queries: Any
) -> None:
    from instruments.recall.queries.facts import gather

    others = [make_gauge() for _ in range(5)]
    with django_assert_num_queries(10):
        gather([gauge, *others], NOW)
    for one in (gauge, *others):
        recall.pair(gauge=one, master=master, by=people["manager"], now=NOW)
    with django_assert_num_queries(12):
        gather([gauge, *others], NOW)
