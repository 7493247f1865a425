"""The page of a thermometer's log, adding a file to it, and the address for programs."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from labsys.accounts.models import Person
from labsys.accounts.operations import issue_token
from standards.climate.models import LogReading, LogUpload
from standards.register.models import Standard
from tests import looking
from tests.standards.climate.conftest import NOW
from tests.standards.conftest import at

SignIn = Callable[[str], Client]
Add = Callable[..., LogUpload]


def course(days: int = 3) -> str:
    """Write a log of every ten minutes with a gap of an hour in each day."""
    start = at("2025-06-07", 0)
    rows = (start + timedelta(minutes=10 * n) for n in range(144 * days))
    lines = (
        f"{one:%Y-%m-%dT%H:%M}Z;{20 + one.hour / 50:.2f};{40 + one.hour}" for one in rows if one.hour != 4
    )
    return "\n".join(["Time;Temperature;Humidity", *lines, "broken"])


@pytest.fixture
def june(time_machine: Any) -> None:
    time_machine.move_to(NOW)


@pytest.mark.usefixtures("june")
def test_a_file_is_added_on_the_page_and_its_broken_line_is_named(
    thermometer: Standard, sign_in: SignIn
) -> None:
    client = sign_in("technician")
    sent = {"file": SimpleUploadedFile("log.csv", course().encode())}
    page = client.post(f"/standards/{thermometer.pk}/log/add/", sent, follow=True).content.decode()
    assert "414 new readings, 1 line not taken: see below." in page
    assert "<b>Line 416.</b> Expected a time such as" in page
    assert "From 20.0 °C at 2025-06-07 00:00 to 20.5 °C at 2025-06-07 23:00." in page
    assert page.count('class="room-course"') == 4, "a gap in each of three days"
    shown = client.get(f"/standards/{thermometer.pk}/").content.decode()
    assert "Last reading 20.46 °C" in shown


@pytest.mark.usefixtures("june")
def test_what_is_no_log_is_said_beside_the_field(thermometer: Standard, sign_in: SignIn) -> None:
    sent = {"file": SimpleUploadedFile("log.csv", b"a;b\n1;2")}
    answer = sign_in("technician").post(f"/standards/{thermometer.pk}/log/add/", sent)
    assert answer.status_code == 422
    assert "Found “a;b” in line 1." in answer.content.decode()


def test_days_can_be_chosen_and_a_wrong_order_is_said(
    thermometer: Standard, add: Add, sign_in: SignIn
) -> None:
    add(course())
    client, address = sign_in("auditor"), f"/standards/{thermometer.pk}/log/"
    page = client.get(address, {"first": "2025-06-08", "last": "2025-06-08"}).content.decode()
    assert page.count("From 20.0 °C at 2025-06-08 00:00") == 2
    assert page.count('<th scope="row" class="nowrap">') == 2, "one day, one piece"
    assert "Add a file" not in page
    page = client.get(address, {"first": "2025-06-08", "last": "2025-06-01"}).content.decode()
    assert "Expected a day from 2025-06-08 on" in page
    page = client.get(address, {"first": "2025-01-08", "last": "2025-01-08"}).content.decode()
    assert "Nothing was logged on these days." in page


def test_only_a_thermometer_has_a_log(make_standard: Any, sign_in: SignIn) -> None:
    other = make_standard()
    client = sign_in("technician")
    assert client.get(f"/standards/{other.pk}/log/").status_code == 404
    assert "Log of the room" not in client.get(f"/standards/{other.pk}/").content.decode()


def test_a_program_sends_readings_with_its_token(thermometer: Standard, technician: Person) -> None:
    _row, token = issue_token(token_name="logger", by=technician, now=NOW)
    address = f"/api/v1/standards/{thermometer.pk}/log/"
    body = {
        "readings": [
            {"at": "2025-06-10T07:00:00Z", "temperature_c": "20.1"},
            {"at": "2025-06-10T07:05:00Z", "temperature_c": "hot"},
        ]
    }

    def send(**headers: str) -> Any:
        return Client().post(address, body, content_type="application/json", headers=headers)

    assert send().status_code == 401
    answers = [send(authorization=f"Bearer {token}") for _ in range(2)]
    assert [one.status_code for one in answers] == [200, 200]
    assert answers[0].json() == answers[1].json()
    assert answers[0].json()["new"] == 1
    assert answers[0].json()["refused"] == [
        {"place": 2, "sentence": "Expected a temperature between −20 and 60, found “hot”."}
    ]
    assert LogReading.objects.count() == 1
    body = {"readings": []}
    assert send(authorization=f"Bearer {token}").status_code == 400


@pytest.mark.browser
@pytest.mark.usefixtures("june")
def test_the_pages_in_a_browser(thermometer: Standard, add: Add, sign_in: SignIn, chromium_path: str) -> None:
    add(course())
    client = sign_in("technician")
    addresses = [f"/standards/{thermometer.pk}{rest}" for rest in ("/", "/log/", "/log/add/")]
    made = looking.make(client, [*addresses, "/help/room-log/"])
    assert looking.complaints(made, chromium_path) == []
