"""Addresses for programs: tokens, one shape of error, pages that don't jump, fields, and the published description."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from instruments.inventory.models import Gauge
from instruments.inventory.operations import LimitsData, record_custody, set_limits
from labsys.accounts.models import Person
from labsys.accounts.operations import issue_token, revoke_token


@pytest.fixture
def bearer(person: Callable[[str], Person]) -> Callable[[str], dict[str, str]]:
    def header(role: str) -> dict[str, str]:
        _, text = issue_token(token_name=f"for {role}", by=person(role), now=timezone.now())
        return {"Authorization": f"Bearer {text}"}

    return header


def test_a_token_reads_what_its_person_may(gauge: Gauge, bearer: Callable[[str], dict[str, str]]) -> None:
    address = reverse("api-gauges")
    assert Client().get(address, headers=bearer("auditor")).json()["results"][0]["tag"] == "CAL-0001"
    refused = Client().get(address, headers=bearer("floor"))
    assert (refused.status_code, refused.json()["code"]) == (403, "permission-denied")


def test_without_a_token_or_with_a_revoked_one_nothing_is_read(
    gauge: Gauge, person: Callable[[str], Person], now: datetime
) -> None:
    row, text = issue_token(token_name="list", by=person("auditor"), now=now)
    revoke_token(token=row, by=person("auditor"), now=now)
    for headers in ({}, {"Authorization": f"Bearer {text}"}):
        answer = Client().get(reverse("api-gauges"), headers=headers)
        assert answer.status_code == 401
        assert answer.headers["WWW-Authenticate"] == "Bearer"
        assert answer.json()["sentence"]


@pytest.mark.parametrize(
    ("query", "code", "field"),
    [
        ("stat=new", "unknown-parameter", None),
        ("state=broken", "invalid", "state"),
        ("family=unknown", "invalid", "family"),
        ("due_from=yesterday", "invalid", "due_from"),
        ("model=x", "invalid", "model"),
        ("order=colour", "unknown-order", "order"),
        ("fields=tag,colour", "unknown-field", "fields"),
        ("cursor=broken", "not-found", None),
    ],
)
def test_what_cannot_be_meant_is_refused_with_code_and_sentence(
    query: str, code: str, field: str | None, gauge: Gauge, signed_in: Callable[[str], Client]
) -> None:
    answer = signed_in("technician").get(f"{reverse('api-gauges')}?{query}")
    assert answer.status_code in (400, 404)
    told = answer.json()
    assert set(told) == {"code", "sentence", "fields", "data"}
    assert told["code"] == code and told["sentence"]
    assert list(told["fields"]) == ([field] if field else [])


def test_pages_neither_jump_nor_repeat(
    make_gauge: Callable[..., Gauge], signed_in: Callable[[str], Client]
) -> None:
    for number in range(23):
        make_gauge(f"CAL-{number:02}", serial="same")
    client = signed_in("technician")
    for order in ("tag", "-tag", "serial", "-serial", "due", "-registered"):
        seen: list[str] = []
        address = f"{reverse('api-gauges')}?limit=5&order={order}"
        while address:
            told = client.get(address).json()
            assert told["count"] == 23 and not told["count_is_capped"]
            seen += [gauge["tag"] for gauge in told["results"]]
            address = told["next"]
        assert len(seen) == len(set(seen)) == 23, order
    assert len(client.get(reverse("api-gauges") + "?limit=100000").json()["results"]) == 23


def test_a_count_that_stops_says_so(
    make_gauge: Callable[..., Gauge], signed_in: Callable[[str], Client], monkeypatch: Any
) -> None:
    monkeypatch.setattr("labsys.api.paging.COUNT_CAP", 2)
    for number in range(3):
        make_gauge(f"CAL-{number}")
    told = signed_in("technician").get(reverse("api-gauges")).json()
    assert (told["count"], told["count_is_capped"]) == (2, True)


def test_fields_are_chosen(gauge: Gauge, signed_in: Callable[[str], Client]) -> None:
    told = signed_in("technician").get(reverse("api-gauges") + "?fields=tag,model").json()["results"][0]
    assert set(told) == {"tag", "model"}
    assert told["model"]["resolution"] == "0.01" and told["model"]["range_high_mm"] == "150"


def test_one_gauge_with_limits_and_whereabouts(
    gauge: Gauge, manager: Person, now: datetime, signed_in: Callable[[str], Client]
) -> None:
    client, address = signed_in("technician"), reverse("api-gauge", args=["cal-0001"])
    empty = client.get(address).json()
    assert (empty["limits"], empty["whereabouts"], empty["in_laboratory_since"]) == (None, None, None)
    row = {"function": "depth", "up_to_mm": "150", "lower_mm": None, "upper_mm": "0.03"}
    set_limits(gauge=gauge, data=LimitsData([row], "own"), valid_from=now, by=manager, now=now)
    at = now + timedelta(hours=1)
    record_custody(gauge=gauge, kind="received", condition="clean", at=at, by=manager, now=at)
    told = client.get(address).json()
    assert told["limits"]["rows"] == [row]
    assert (told["limits"]["own"], told["limits"]["confirmed"]) == (True, False)
    assert told["whereabouts"] == {
        "kind": "received",
        "at": "2026-03-02T09:00:00Z",
        "place": "",
        "waits_for": "",
    }
    assert told["in_laboratory_since"].startswith("2026-03-02T09:00:00")
    missing = client.get(reverse("api-gauge", args=["CAL-9"]))
    assert (missing.status_code, missing.json()["code"]) == (404, "not-found")


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_these_addresses_only_read(
    method: str, gauge: Gauge, bearer: Callable[[str], dict[str, str]]
) -> None:
    answer = getattr(Client(), method)(reverse("api-gauges"), headers=bearer("manager"))
    assert (answer.status_code, answer.json()["code"]) == (405, "method-not-allowed")


def test_the_published_description_declares_what_may_go_wrong(signed_in: Callable[[str], Client]) -> None:
    answer = signed_in("auditor").get(reverse("api-schema"), headers={"Accept": "application/json"})
    described = answer.json()
    for path, said in described["paths"].items():
        for method, operation in said.items():
            assert {"400", "401", "403", "404"} <= set(operation["responses"]), (path, method)
            shape = operation["responses"]["400"]["content"]["application/json"]["schema"]["$ref"]
            assert shape.endswith("/Error")
    names = {one["name"] for one in described["paths"]["/api/v1/gauges/"]["get"]["parameters"]}
    assert {"text", "state", "standing", "due", "order", "fields", "limit", "cursor"} <= names


def test_the_description_is_for_who_is_signed_in(db: None, signed_in: Callable[[str], Client]) -> None:
    assert Client().get(reverse("api-schema")).status_code == 401
    assert Client().get(reverse("api-docs")).status_code == 302
    assert signed_in("auditor").get(reverse("api-docs")).status_code == 200


def test_the_page_explains_every_address(signed_in: Callable[[str], Client]) -> None:
    client = signed_in("auditor")
    described = client.get(reverse("api-schema"), headers={"Accept": "application/json"}).json()
    answer = client.get(reverse("api-docs"))
    shown = {(one.method, one.path): one for one in answer.context["addresses"]}
    assert shown.keys() == {
        (method.upper(), path) for path, said in described["paths"].items() for method in said
    }
    gauges = shown["GET", "/api/v1/gauges/"]
    assert {"tag", "standing", "model"} <= {field.name for field in gauges.fields}
    assert [status for status, _ in gauges.errors] == ["400", "401", "403", "404"]
    kinds = {field.name: field.kind for field in gauges.parameters}
    assert (kinds["limit"], kinds["owner"]) == (
        "integer",
        "one of: borrowed, customer, employee, own, supplier",
    )
    assert "/api/v1/gauges/{tag}/" in answer.content.decode()
