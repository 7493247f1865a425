"""The room by a thermometer's log: noted as its mean, held against the limits, its gaps said."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client

from instruments.measuring.models import Condition, SetAside
from instruments.measuring.models.rooms import ConditionSpan
from instruments.measuring.open_items import open_items
from instruments.measuring.record import record_of
from standards.climate.operations import log_readings
from standards.register.models import Standard
from tests import laboratory
from tests.bench import MORNING, Player
from tests.laboratory import Lab

D = Decimal
MINUTE = timedelta(minutes=1)


@pytest.fixture
def thermometer(lab: Lab) -> Standard:
    """A thermometer at the bench, in calibration."""
    return laboratory._standard(
        "T-01", "thermometer", "Room thermometer", [laboratory._block("probe", D(1))], lab.bench, lab.manager,
        laboratory.START, deviation="0",
    )  # fmt: skip


class Logger:
    """A logger at the thermometer; minutes count from when the gauge came."""

    def __init__(self, sensor: Standard, lab: Lab) -> None:
        self.sensor, self.lab = sensor, lab

    def add(self, *rows: tuple[float, str, str]) -> None:
        sent = [
            {"at": f"{MORNING + m * MINUTE:%Y-%m-%dT%H:%M:%S}Z", "temperature_c": t, "humidity_percent": h}
            for m, t, h in rows
        ]
        log_readings(
            sensor=self.sensor, readings=sent, by=self.lab.technician, now=MORNING + timedelta(days=1)
        )

    def steady(self, first: int, last: int, temperature: str = "20.1") -> None:
        self.add(*((m, temperature, "45") for m in range(first, last + 1, 10)))


@pytest.fixture
def logger(thermometer: Standard, lab: Lab) -> Logger:
    return Logger(thermometer, lab)


def take_from_log(player: Player, sensor: Standard) -> Any:
    return player.send("condition", run=player.run.pk, sensor=sensor.pk, from_log=True)


def said(player: Player, *codes: str) -> list[str]:
    wanted = codes or ("temperature-out", "humidity-out", "log-gap", "conditions-missing")
    return [item.sentence for item in open_items(player.session) if item.code in wanted]


def at(minutes: float) -> datetime:
    return MORNING + minutes * MINUTE


def test_the_room_is_noted_as_the_mean_of_the_hour_before(player: Player, logger: Logger) -> None:
    # Sixty minutes of soak before the note at minute 121: what lies before minute 61 doesn't count.
    logger.add((60, "25", "90"), (61, "20.0", "40"), (91, "20.3", "44"), (121, "19.8", "48"))
    row = take_from_log(player, logger.sensor)
    assert isinstance(row, Condition)
    assert (row.temperature_c, row.humidity_percent, row.sensor) == (D("20.03"), D("44.0"), logger.sensor)
    span = ConditionSpan.objects.get(condition=row)
    assert (span.start, span.end, span.reading_count, span.gap_count) == (at(61), at(121), 3, 0)
    assert (span.temperature_low_c, span.temperature_high_c) == (D("19.8"), D("20.3"))
    assert (span.humidity_low_percent, span.humidity_high_percent) == (D(40), D(48))
    (told,) = json.loads(record_of(player.session))["runs"][0]["conditions"]
    assert told["log"]["temperature_c"] == ["19.800", "20.300"]


def test_a_typed_condition_has_no_log_in_the_record(player: Player) -> None:
    player.room()
    (told,) = json.loads(record_of(player.session))["runs"][0]["conditions"]
    assert "log" not in told


def test_without_a_log_of_that_time_the_note_is_set_aside_with_a_sentence(
    player: Player, logger: Logger
) -> None:
    logger.add((0, "20", ""), (60, "20", ""))
    row = take_from_log(player, logger.sensor)
    assert isinstance(row, SetAside)
    assert row.sentence.startswith("The log of T-01 says nothing from 08:01 to 09:01.")
    row = player.send("condition", run=player.run.pk, from_log=True)
    assert row.code == "no-sensor-named"


def test_an_excursion_while_measuring_is_found_though_the_room_was_typed(
    player: Player, logger: Logger
) -> None:
    player.look()
    player.room()
    player.zero("as-found")
    player.zero("set")
    assert said(player) == []
    first = int((player.now - MORNING) / MINUTE)
    logger.steady(0, first, "20.1")
    logger.add((first, "23.75", "45"))
    (sentence,) = said(player)
    stamp = f"{MORNING + first * MINUTE:%Y-%m-%d %H:%M}"
    assert sentence.startswith(f"23.75 °C at {stamp} lies outside ")
    assert sentence.endswith("by the log of T-01.")


def test_an_excursion_before_the_gauge_lay_there_harms_nothing(player: Player, logger: Logger) -> None:
    logger.add((0, "29", "45"), (30, "29", "45"))
    logger.steady(60, 200)
    player.begin()
    assert said(player) == []


def test_a_gap_counts_where_the_room_was_noted_from_the_log_and_only_there(
    player: Player, logger: Logger
) -> None:
    logger.steady(60, 120)
    player.look()
    row = take_from_log(player, logger.sensor)
    assert isinstance(row, Condition)
    player.zero("as-found")
    player.now += 40 * MINUTE
    player.zero("set")
    last = f"{player.now:%Y-%m-%d %H:%M}"
    assert said(player) == [f"The log of T-01 says nothing from 2025-06-03 09:00 to {last}."]
    logger.steady(130, 190)
    assert said(player) == [], "the logger's newest file closes it"
    player.room()
    assert isinstance(player.run.conditions.last(), Condition)


def test_a_typed_room_beside_an_old_log_is_enough(player: Player, logger: Logger) -> None:
    logger.steady(60, 80)
    player.begin()
    assert said(player) == []


def test_another_place_says_nothing_about_this_one(player: Player, logger: Logger, lab: Lab) -> None:
    logger.steady(60, 200, "29")
    Standard.objects.filter(pk=logger.sensor.pk).update(place=lab.shop)
    player.begin()
    assert said(player) == []


@pytest.fixture
def technician(lab: Lab, client: Client) -> Any:
    client.force_login(lab.technician)
    with time_machine.travel(at(180), tick=False):
        yield client


def test_the_page_offers_the_log_and_takes_from_it(
    technician: Client, player: Player, logger: Logger
) -> None:
    address = f"/bench/session/{player.session.pk}/"
    assert "The log of" not in technician.get(f"{address}?step=room").content.decode()
    logger.add((121, "20.1", "45"), (140, "20.5", "45"), (178, "20.3", "45"))
    page = technician.get(f"{address}?step=room").content.decode()
    assert "Take from the log of T-01" in page
    assert "mean <b>20.30 °C</b>, 20.10 to 20.50 °C" in page
    assert "The log of T-01 says nothing from 2025-06-03 09:20 to 2025-06-03 09:58." in page
    player.look()
    sent = {
        "kind": "condition",
        "run": player.run.pk,
        "sensor": logger.sensor.pk,
        "from_log": "1",
        "client_id": "log-00001",
    }
    page = technician.post(f"{address}send/", sent, follow=True).content.decode()
    row = Condition.objects.get()
    assert row.temperature_c == D("20.30")
    page = technician.get(f"{address}?step=room").content.decode()
    assert "read on T-01 by its log, 20.10 to 20.50 °C since" in page
    page = technician.get(f"/sessions/{player.session.pk}/").content.decode()
    assert "by its log, 20.10 to 20.50 °C since" in page


def test_an_overdue_thermometer_is_neither_offered_nor_taken(
    technician: Client, player: Player, logger: Logger
) -> None:
    logger.steady(60, 180)
    logger.sensor.calibrations.get()
    from standards.register.operations import change_state

    change_state(standard=logger.sensor, state="out-of-service", reason="dropped", by=player.by, now=at(100))
    page = technician.get(f"/bench/session/{player.session.pk}/?step=room").content.decode()
    assert "Take from the log" not in page
    row = take_from_log(player, logger.sensor)
    assert row.code == "standard-out-of-service"
