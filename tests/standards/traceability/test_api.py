"""The addresses for programs: standards, values as of a day, chains; who may ask, and what they refuse."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from standards.register.models import Calibration, Standard
from tests.standards.conftest import at

SignIn = Callable[[str], Client]


@pytest.fixture
def history(blocks: Standard, calibrate: Callable[..., Calibration]) -> Standard:
    calibrate(blocks, "2024-02-01", deviation="0.0001")
    calibrate(blocks, "2025-01-10", deviation="0.0003", accepted="2025-01-17")
    return blocks


def test_the_list_and_one(history: Standard, sign_in: SignIn, time_machine: Any) -> None:
    time_machine.move_to(at("2025-06-01"))
    client = sign_in("auditor")
    told = client.get(reverse("api-standards"), {"due": "none"}).json()
    assert (told["count"], told["results"]) == (0, [])
    (row,) = client.get(reverse("api-standards"), {"order": "-due", "fields": "tag,state,due_on"}).json()[
        "results"
    ]
    assert row == {"tag": "GB-01", "state": "in-service", "due_on": "2026-01-10"}
    one = client.get(reverse("api-standard", args=[history.pk])).json()
    assert (one["tag"], one["place"], one["waiting_for_review"]) == ("GB-01", "Cabinet 1", 0)


def test_values_as_of_a_day(history: Standard, sign_in: SignIn) -> None:
    address = reverse("api-standard-values", args=[history.pk])
    client = sign_in("auditor")

    def told(day: str) -> tuple[bool, str, str | None]:
        found = client.get(address, {"on": day}).json()
        value = found["elements"][1]["value"]
        return found["usability"]["ok"], found["state"], value and value["deviation_mm"]

    assert told("2023-12-31") == (False, "", None)
    assert told("2024-06-01") == (True, "in-service", "0.000100000")
    assert told("2025-01-16") == (True, "in-service", "0.000100000")
    assert told("2025-01-17") == (True, "in-service", "0.000300000")
    assert told("2026-01-11") == (False, "in-service", "0.000300000")


def test_the_chain(working: Calibration, sign_in: SignIn) -> None:
    found = sign_in("auditor").get(reverse("api-chain", args=[working.pk]), {"on": "2024-09-02"}).json()
    assert (found["holds"], found["faults"]) == (True, [])
    nodes = [
        (node["standard"], node["depth"], node["relied_on_on"], node["is_terminus"])
        for node in found["nodes"]
    ]
    assert nodes == [
        ("GB-03", 0, "2024-09-02", False),
        ("GB-02", 1, "2024-08-01", False),
        ("GB-01", 2, "2024-05-01", True),
    ]
    assert {link["code"]: link["holds"] for link in found["nodes"][2]["links"]} == {
        **dict.fromkeys(("L1", "L2", "L3", "L4", "L5", "L8"), True),
        **dict.fromkeys(("L6", "L7", "L10")),
    }
    late = sign_in("auditor").get(reverse("api-chain", args=[working.pk]), {"on": "2025-09-02"}).json()
    assert [(fault["code"], fault["level"]) for fault in late["faults"]] == [("F01", "block")]


@pytest.mark.parametrize("name", ["api-standards", "api-standard", "api-standard-values", "api-chain"])
@pytest.mark.parametrize(
    ("role", "status"), [("auditor", 200), ("technician", 200), ("floor", 403), (None, 401)]
)
def test_who_may_ask(
    name: str, role: str | None, status: int, history: Standard, sign_in: SignIn, client: Client
) -> None:
    args = {"api-standards": [], "api-chain": [history.calibrations.latest("pk").pk]}.get(name, [history.pk])
    answer = (sign_in(role) if role else client).get(reverse(name, args=args))
    assert answer.status_code == status


@pytest.mark.parametrize(
    ("asked", "code"), [({"on": "yesterday"}, "day-unreadable"), ({"at": "2024-01-01"}, "unknown-parameter")]
)
@pytest.mark.parametrize("name", ["api-standard-values", "api-chain"])
def test_what_is_not_understood(
    asked: dict[str, str], code: str, name: str, history: Standard, sign_in: SignIn
) -> None:
    pk = history.pk if name == "api-standard-values" else history.calibrations.latest("pk").pk
    answer = sign_in("auditor").get(reverse(name, args=[pk]), asked)
    assert (answer.status_code, answer.json()["code"]) == (400, code)


def test_what_is_not_there(history: Standard, sign_in: SignIn) -> None:
    for name in ("api-standard", "api-standard-values", "api-chain"):
        assert sign_in("auditor").get(reverse(name, args=[999])).status_code == 404


def test_the_list_costs_the_same_for_many(
    make_standard: Callable[..., Standard], sign_in: SignIn, django_assert_max_num_queries: Any
) -> None:
    for number in range(12):
        make_standard(f"GB-{number:02}")
    client = sign_in("auditor")
    with django_assert_max_num_queries(6):
        assert client.get(reverse("api-standards")).json()["count"] == 12
