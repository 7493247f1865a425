"""Several gauges in one sitting: a session for each, set-ups shared, the room noted once, led from gauge to gauge."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from zeal import zeal_ignore

from instruments.inventory.models import Gauge
from instruments.measuring.models import Condition, Point, Reading, Session, SetAside, Sitting
from instruments.measuring.operations import open_session, sit_down
from instruments.measuring.operations.sitting import NobodySat, NotSeveral, OddOneOut
from instruments.measuring.queries.sittings import Left, Table, open_runs, sittings_under_way, table_of
from instruments.measuring.record import record_of
from instruments.measuring.showing.sittings import lead_from, lead_in, set_up_lines
from instruments.procedures.queries import content_of
from labsys.journal.models import JournalEntry
from labsys.laboratory.operations import add_family
from labsys.metrology.exact import plain
from tests import laboratory
from tests.bench import MORNING, Player
from tests.families import Piece, Workplace
from tests.instruments.measuring.test_series_evaluated import INDICATOR
from tests.laboratory import SETUP, Lab

NOON = MORNING + timedelta(hours=3)
TWO_HOURS = timedelta(hours=2)


@pytest.fixture
def gauges(lab: Lab, bring: Callable[..., Gauge]) -> list[Gauge]:
    """Three calipers of one model, received in the morning."""
    laboratory.agreed(lab)
    model = laboratory.caliper_model(lab)
    return [bring(laboratory.caliper_gauge(lab, model, tag=f"C-000{n}")) for n in (1, 2, 3)]


@pytest.fixture
def players(lab: Lab, gauges: list[Gauge]) -> list[Player]:
    """The technician at each of the three, in one sitting opened two hours after the gauges came."""
    now = MORNING + TWO_HOURS
    made = sit_down(gauges=gauges, place=lab.bench, by=lab.technician, now=now)
    return [Player(session, lab.technician, now) for session in made.sessions]


@pytest.fixture
def noon() -> Any:
    """Stand at noon of the day on which the gauges were received."""
    with time_machine.travel(NOON, tick=True) as traveller:
        yield traveller


@pytest.fixture
def technician(lab: Lab, client: Client, noon: Any) -> Client:
    client.force_login(lab.technician)
    return client


def table(players: list[Player]) -> Table:
    sitting = players[0].session.sitting
    assert sitting is not None
    return table_of(sitting)


def exact(point: Point) -> str:
    return f"{plain(point.nominal_mm):f}"


def where(lead: Any) -> tuple[str, str]:
    assert lead is not None
    return str(lead.seat.session.gauge), lead.query.partition("=")[0]


# Sitting down


def test_each_gauge_has_a_session_of_its_own(lab: Lab, gauges: list[Gauge]) -> None:
    made = sit_down(gauges=gauges, place=lab.bench, by=lab.technician, now=NOON)
    assert [session.gauge for session in made.sessions] == gauges and made.refusals == ()
    assert {session.sitting_id for session in Session.objects.all()} == {made.sitting.pk}
    entry = JournalEntry.objects.get(act="measuring.sit-down")
    assert entry.after is not None
    assert entry.after["sessions"] == [session.pk for session in made.sessions]
    assert JournalEntry.objects.filter(act="measuring.open-session").count() == 3


def test_one_that_is_refused_does_not_keep_the_others(lab: Lab, gauges: list[Gauge]) -> None:
    missing = laboratory.caliper_gauge(lab, gauges[0].model, tag="C-0009")
    open_session(gauge=gauges[1], place=lab.bench, by=lab.technician, now=NOON)
    made = sit_down(gauges=[*gauges, missing], place=lab.bench, by=lab.technician, now=NOON)
    assert [session.gauge for session in made.sessions] == [gauges[0], gauges[2]]
    assert "C-0002 already has session" in made.refusals[0]
    assert "C-0009 is not in the laboratory" in made.refusals[1]
    assert not missing.sessions.exists()


def test_where_everyone_is_refused_there_is_no_sitting(lab: Lab, gauges: list[Gauge]) -> None:
    missing = [laboratory.caliper_gauge(lab, gauges[0].model, tag=f"C-001{n}") for n in (1, 2)]
    with pytest.raises(NobodySat, match="C-0011 is not in the laboratory"):
        sit_down(gauges=missing, place=lab.bench, by=lab.technician, now=NOON)
    assert not Sitting.objects.exists()


def test_the_odd_one_is_named_and_nothing_is_opened(lab: Lab, gauges: list[Gauge]) -> None:
    family = add_family(
        code="height-gauge", name="Height gauge", bench_hours=laboratory.D(1), interval_months=12, by=SETUP, now=MORNING
    )  # fmt: skip
    model = laboratory.caliper_model(lab, family=family, designation="H-300")
    odd = laboratory.caliper_gauge(lab, model, tag="H-0001")
    expected = "H-0001 is a height gauge, measured by no procedure in force, the others by CAL-1"
    with pytest.raises(OddOneOut, match=expected):
        sit_down(gauges=[*gauges, odd], place=lab.bench, by=lab.technician, now=NOON)
    assert not Session.objects.exists()


def test_a_sitting_is_for_several(lab: Lab, gauges: list[Gauge]) -> None:
    with pytest.raises(NotSeveral, match="found 1"):
        sit_down(gauges=[gauges[0], gauges[0]], place=lab.bench, by=lab.technician, now=NOON)


def test_the_record_names_the_sitting_only_where_there_is_one(
    lab: Lab, players: list[Player], bring: Callable[..., Gauge]
) -> None:
    session = players[0].session
    named = json.loads(record_of(session))["sitting"]
    assert session.sitting is not None and named["id"] == session.sitting.pk
    alone = bring(laboratory.caliper_gauge(lab, session.gauge.model, tag="C-0004"))
    opened = open_session(gauge=alone, place=lab.bench, by=lab.technician, now=NOON)
    assert "sitting" not in json.loads(record_of(opened))


# Where it goes on


def test_every_gauge_is_prepared_before_the_first_set_up(players: list[Player]) -> None:
    one, two, three = players
    assert table(players).seats[0].before == (Left.LOOKS, Left.ROOM, Left.ZERO_FOUND, Left.ZERO_SET)
    assert where(lead_in(table(players)))[0] == "C-0001"
    one.begin()
    seats = table(players)
    assert lead_from(seats, seats.seats[1], None) is None  # its own looks come first
    assert where(lead_from(seats, seats.seats[0], None))[0] == "C-0002"
    two.begin()
    three.begin()
    seats = table(players)
    assert where(lead_from(seats, seats.seats[2], None)) == ("C-0001", "point")


def test_a_set_up_is_read_on_every_gauge_before_the_next(players: list[Player]) -> None:
    for player in players:
        player.begin()
    order = []
    lead = lead_in(table(players))
    while lead is not None and lead.query.startswith("point="):
        player = next(one for one in players if one.session == lead.seat.session)
        point = Point.objects.get(pk=lead.query.partition("=")[2])
        order.append((point.function, point.place, point.nominal_mm, str(lead.seat.session.gauge)))
        player.now = max(one.now for one in players)
        player.read(point, exact(point))
        seats = table(players)
        lead = lead_from(seats, next(s for s in seats.seats if s.session == lead.seat.session), point.pk)
    planned = [(point.function, point.place, point.nominal_mm) for point in players[0].points()]
    assert order == [(*set_up, f"C-000{n}") for set_up in planned for n in (1, 2, 3)]
    assert where(lead) == ("C-0001", "step")
    assert lead is not None and lead.query == "step=closing-zero"
    for player in players:
        player.zero("closing")
    assert lead_in(table(players)).query == "step=hand-in"  # type: ignore[union-attr]


def test_a_gauge_that_a_look_rejected_is_read_no_more(players: list[Player]) -> None:
    one, two, three = players
    for player in (one, three):
        player.begin()
    content = content_of(two.session.revision)
    ending = next(look.code for look in content.looks if look.ends_job)
    two.look(**{ending: "not-good"})
    seats = table(players)
    assert seats.seats[1].is_rejected
    first = seats.set_ups[0]
    here = next(point for point in seats.seats[0].points if point.set_up == first)
    assert where(lead_from(seats, seats.seats[0], here.point.pk))[0] == "C-0003"


def test_set_ups_are_shared_and_listed_with_what_is_read(players: list[Player]) -> None:
    for player in players:
        player.begin()
    point = players[1].points()[0]
    players[1].read(point, exact(point))
    lines = set_up_lines(table(players))
    assert len(lines) == len(players[0].points())
    assert (lines[0].done, len(lines[0].places), lines[0].is_next) == (1, 3, True)
    assert "GB-01" in lines[0].references


IN_TURN = [("travel", "D-0001"), ("travel", "D-0002"), ("again", "D-0001"), ("again", "D-0002")]
ONE_BY_ONE = [("travel", "D-0001"), ("again", "D-0001"), ("travel", "D-0002"), ("again", "D-0002")]


@pytest.mark.parametrize(("how", "expected"), [("faces", IN_TURN), ("reference", ONE_BY_ONE)])
def test_an_indicator_is_not_taken_out_between_two_directions_nor_after_its_zero_was_set(
    lab: Lab, bring: Callable[..., Gauge], how: str, expected: list[tuple[str, str]]
) -> None:
    content = json.loads(INDICATOR)
    content["zero"]["how"] = how
    place = Workplace(
        lab, "indicator", json.dumps(content),
        limits={"span_up": (None, "0.015"), "span": (None, "0.02"), "section": (None, "0.01"),
                "hysteresis": (None, "0.006"), "repeatability": (None, "0.01")},
        model={"indication": "dial", "resolution": laboratory.D("0.01"), "range_low_mm": laboratory.D(0),
               "range_high_mm": laboratory.D(10), "functions": ("travel",), "unit": "mm"},
    )  # fmt: skip
    place.standard("IT-01", "tester", [Piece("spindle", "25", ("travel",), continuous=True)])
    pair = [bring(place.gauge(tag)) for tag in ("D-0001", "D-0002")]
    now = MORNING + TWO_HOURS
    made = sit_down(gauges=pair, place=lab.bench, by=lab.technician, now=now)
    players = [Player(session, lab.technician, now) for session in made.sessions]
    for player in players:
        player.begin()
    order: list[tuple[str, str]] = []
    lead = lead_in(table(players))
    while lead is not None and lead.query != "step=hand-in":
        player = next(one for one in players if one.session == lead.seat.session)
        here = read_where_led(player, lead.query, order)
        seats = table(players)
        lead = lead_from(seats, seats.seats[lead.seat.number - 1], here)
    assert order == expected
    assert set_up_lines(table(players))[0].name == "Travel, 14 points"


def read_where_led(player: Player, query: str, order: list[tuple[str, str]]) -> int | None:
    """Do what is led to, and add the function and the gauge to the order where they change; gives the point."""
    if query == "step=closing-zero":
        player.zero("closing")
        return None
    point = Point.objects.get(pk=query.removeprefix("point="))
    turn = (point.function, str(player.session.gauge))
    if not order or order[-1] != turn:
        order.append(turn)
    for _repeat in range(content_of(player.session.revision).repeats_at(point.function)):
        player.read(point, exact(point))
    return point.pk


def test_a_struck_reading_is_wanted_again(players: list[Player]) -> None:
    for player in players:
        player.begin()
    point = players[0].points()[0]
    reading = players[0].read(point, exact(point))
    assert table(players).seats[0].done == 1
    players[0].send("strike", reading=reading.pk, reason="seating", note="")
    assert table(players).seats[0].done == 0


# The pages


def post(client: Client, session: Session, **fields: Any) -> Any:
    return client.post(reverse("bench-send", args=[session.pk]), fields)


def begun(players: list[Player]) -> list[Player]:
    for player in players:
        player.begin()
        assert player.now < NOON
    return players


def test_after_a_reading_the_page_is_that_of_the_next_gauge_at_the_same_set_up(
    technician: Client, players: list[Player]
) -> None:
    one, two, _three = begun(players)
    here, there = one.points()[0], two.points()[0]
    page = technician.get(f"/bench/session/{one.session.pk}/?point={here.pk}").content.decode()
    assert "1 of 3 in this sitting" in page and "Another gauge." in page  # the last typed into was C-0003
    following = f"/bench/session/{two.session.pk}/?point={there.pk}"
    assert f'href="{following}">Next: C-0002' in page
    answer = post(technician, one.session, kind="reading", point=here.pk, raw=exact(here))
    assert (answer.status_code, answer.headers["Location"]) == (302, following)
    page = technician.get(following).content.decode()
    assert "2 of 3 in this sitting" in page
    assert re.search(r"<b>Another gauge\.</b> Lay C-0001 aside and take <b>C-0002</b>", page)
    # The script is led as the plain form is.
    htmx = technician.post(
        reverse("bench-send", args=[two.session.pk]),
        {"kind": "reading", "point": there.pk, "raw": exact(there)},
        headers={"HX-Request": "true"},
    )
    third = players[2].points()[0]
    assert htmx.headers["HX-Redirect"] == f"/bench/session/{players[2].session.pk}/?point={third.pk}"


def test_a_gauge_that_wants_a_repeat_is_not_left(technician: Client, players: list[Player]) -> None:
    one = begun(players)[0]
    here = one.points()[0]
    far = f"{plain(here.nominal_mm + laboratory.D('0.05')):f}"
    answer = post(technician, one.session, kind="reading", point=here.pk, raw=far)
    assert answer.headers["Location"] == f"/bench/session/{one.session.pk}/?point={here.pk}"
    page = technician.get(answer.headers["Location"]).content.decode()
    assert "Another gauge." not in page
    answer = post(technician, one.session, kind="reading", point=here.pk, raw=far)
    assert f"/bench/session/{players[1].session.pk}/" in answer.headers["Location"]


def test_the_room_is_noted_once_for_all_and_stands_in_each(technician: Client, players: list[Player]) -> None:
    address = reverse("bench-sitting-room", args=[players[0].session.sitting_id])
    given = {"temperature_c": "20,3", "humidity_percent": "47", "client_id": "0b0e7e0e-room"}
    for _twice in range(2):
        with zeal_ignore():  # each note is a transaction of its own, as anything typed is
            assert technician.post(address, given).status_code == 302
    rows = list(Condition.objects.order_by("run"))
    assert [row.run.session for row in rows] == [player.session for player in players]
    assert {str(row.temperature_c) for row in rows} == {"20.30"}
    assert len({row.arrival_id for row in rows}) == 3
    assert all(Left.ROOM not in seat.before for seat in table(players).seats)


def test_a_room_that_no_room_has_is_said_once_and_answered_by_noting_it_again(
    technician: Client, players: list[Player]
) -> None:
    address = reverse("bench-sitting-room", args=[players[0].session.sitting_id])
    with zeal_ignore():
        page = technician.post(address, {"temperature_c": "203"}, follow=True).content.decode()
    assert page.count("Read the instrument again.") == 1
    assert SetAside.objects.filter(resolved_at=None).count() == 3
    with zeal_ignore():
        page = technician.post(address, {"temperature_c": "20.3"}, follow=True).content.decode()
    assert "The room is noted in 3 sessions." in page
    assert not SetAside.objects.filter(resolved_at=None).exists()


def test_gauges_are_chosen_by_scanning_and_by_ticking(
    technician: Client, gauges: list[Gauge], lab: Lab
) -> None:
    address = reverse("bench-sit-down")
    page = technician.post(
        address, {"act": "add", "label": gauges[1].tag.code, "gauges": [gauges[0].pk]}
    ).content.decode()
    ticked = re.findall(r'value="(\d+)" checked', page)
    assert ticked == [str(gauges[0].pk), str(gauges[1].pk)]
    assert "No gauge carries" in technician.post(address, {"act": "add", "label": "X-1"}).content.decode()
    few = technician.post(address, {"act": "sit", "gauges": ticked[:1], "place": lab.bench.pk})
    assert few.status_code == 422 and "Expected 2 to" in few.content.decode()
    with zeal_ignore():  # each session is opened by the act that opens one
        made = technician.post(address, {"act": "sit", "gauges": ticked, "place": lab.bench.pk})
    sitting = Sitting.objects.get()
    assert made.headers["Location"] == reverse("bench-sitting", args=[sitting.pk])
    page = technician.get(made.headers["Location"]).content.decode()
    assert "2 gauges in one sitting" in page and "Go on: C-0001, looks" in page
    assert reverse("bench-sitting", args=[sitting.pk]) in technician.get(reverse("bench")).content.decode()
    gone = technician.post(address, {"act": "add", "label": "c-0001"}).content.decode()
    assert "under way already" in gone


def test_what_is_handed_in_leaves_the_sitting_s_work(players: list[Player]) -> None:
    one = players[0]
    one.begin()
    one.read_off()
    one.finish()
    seats = table(players)
    assert not seats.seats[0].is_open
    assert [run.session for run in open_runs(seats.sitting)] == [player.session for player in players[1:]]
    listed: Any = list(sittings_under_way())[0]
    assert (listed.open_count, listed.count) == (2, 3)
    assert where(lead_in(seats))[0] == "C-0002"


def test_the_next_link_costs_the_same_however_many_sit(
    technician: Client,
    lab: Lab,
    players: list[Player],
    bring: Callable[..., Gauge],
    django_assert_max_num_queries: Any,
) -> None:
    begun(players)
    model = players[0].session.gauge.model
    more = [bring(laboratory.caliper_gauge(lab, model, tag=f"C-010{n}")) for n in range(8)]
    made = sit_down(gauges=more, place=lab.bench, by=lab.technician, now=MORNING + TWO_HOURS)
    crowd = begun([Player(session, lab.technician, MORNING + TWO_HOURS) for session in made.sessions])

    def page(player: Player) -> str:
        return f"/bench/session/{player.session.pk}/?point={player.points()[0].pk}"

    few, many = page(players[0]), page(crowd[0])
    technician.get(few)
    with django_assert_max_num_queries(200) as counted:
        technician.get(few)
    with django_assert_max_num_queries(len(counted)):
        assert "1 of 8 in this sitting" in technician.get(many).content.decode()


def test_a_session_by_itself_is_led_as_before(technician: Client, player: Player) -> None:
    player.begin()
    here, after = player.points()[:2]
    page = technician.get(f"/bench/session/{player.session.pk}/?point={here.pk}").content.decode()
    assert "in this sitting" not in page and "sitting-other" not in page
    post(technician, player.session, kind="reading", point=here.pk, raw=exact(here))
    assert Reading.objects.filter(point=here).exists()
    page = technician.get(f"/bench/session/{player.session.pk}/").content.decode()
    assert f'name="point" value="{after.pk}"' in page
