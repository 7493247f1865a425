"""The page of a gauge: what stands on it now, and what stood on it on a day."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from instruments.inventory.models import Gauge
from instruments.inventory.operations import (
    GaugeData,
    LimitsData,
    add_member,
    change_gauge,
    change_state,
    pair,
    record_custody,
    set_limits,
    unpair,
    withdraw_member,
)
from labsys.accounts.models import Person

DAY = timedelta(days=1)
LIMIT = {"function": "outside", "up_to_mm": "150", "lower_mm": "-0.03", "upper_mm": "0.03"}


def page(client: Client, gauge: Gauge, on: str = "") -> Any:
    answer = client.get(reverse("gauge", args=[gauge.pk]) + (f"?on={on}" if on else ""))
    assert answer.status_code == 200
    return answer


def inventory_panel(answer: Any) -> dict[str, Any]:
    found: dict[str, dict[str, Any]] = dict(answer.context["panels"])
    return found["instruments/inventory/panel.html"]


@pytest.fixture
def history(
    gauge: Gauge, gauge_data: GaugeData, make_gauge: Callable[..., Gauge], manager: Person, now: datetime
) -> Gauge:
    """A life, one thing a day from 2026-03-02 on."""
    master = make_gauge("SET-25")
    by = manager
    set_limits(model=gauge.model, data=LimitsData([LIMIT], "first"), valid_from=now, by=by, now=now)
    pin = add_member(gauge=gauge, label="5.00", nominal_mm=None, by=by, now=now)
    joined = pair(gauge=gauge, master=master, by=by, now=now)
    data = replace(gauge_data, serial="S-2", note="engraved anew")
    change_gauge(gauge=gauge, data=data, reason="misread", by=by, now=now + DAY)
    record_custody(
        gauge=gauge, kind="received", condition="dirty", at=now + 2 * DAY, by=by, now=now + 2 * DAY
    )
    wider = {**LIMIT, "lower_mm": "-0.05", "upper_mm": "0.05"}
    data_of_own = LimitsData([wider], "own", confirmed=True)
    set_limits(gauge=gauge, data=data_of_own, valid_from=now + 3 * DAY, by=by, now=now + 3 * DAY)
    withdraw_member(member=pin, reason="worn", by=by, now=now + 4 * DAY)
    unpair(pairing=joined, reason="master lost", by=by, now=now + 4 * DAY)
    change_state(gauge=gauge, state="out-of-service", reason="set incomplete", by=by, now=now + 5 * DAY)
    return gauge


def test_a_day_shows_what_stood_then(history: Gauge, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("auditor")
    first, third, now = (
        page(client, history, "2026-03-02"),
        page(client, history, "2026-03-04"),
        page(client, history),
    )
    assert [one.context["description"]["serial"] for one in (first, third, now)] == ["S-1", "S-2", "S-2"]
    assert [one.context["state"] for one in (first, third, now)] == ["new and not accepted"] * 2 + [
        "out of service"
    ]
    sources = [inventory_panel(one)["limits"].source for one in (first, third, now)]
    assert sources == ["first", "first", "own"]
    assert [len(inventory_panel(one)["custody"]) for one in (first, third, now)] == [0, 1, 1]
    assert [len(inventory_panel(one)["pairings"]) for one in (first, third, now)] == [1, 1, 0]
    withdrawn = [inventory_panel(one)["members"][0].withdrawn_reason for one in (first, third, now)]
    assert withdrawn == ["", "", "worn"]
    reasons = [one.context["standing"].reason for one in (first, third, now)]
    assert "new" in reasons[0] and reasons[2] == "out of service"


def test_a_past_day_says_so_and_offers_no_act(history: Gauge, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("manager")
    past, now = page(client, history, "2026-03-04").content.decode(), page(client, history).content.decode()
    assert "As on <b>" in past and "2026-03-04" in past
    for name in ("gauge-change", "gauge-state", "gauge-custody", "gauge-limits", "gauge-member-add"):
        address = reverse(name, args=[history.pk])
        assert address in now and address not in past


def test_before_it_was_registered_there_is_nothing_to_show(
    history: Gauge, signed_in: Callable[[str], Client]
) -> None:
    body = page(signed_in("auditor"), history, "2026-03-01").content.decode()
    assert "not registered yet" in body and "S-1" not in body


@pytest.mark.parametrize("on", ["2026-02-30", "yesterday", "9999-01-01", "9999-12-31"])
def test_no_day_that_has_been_is_said(on: str, history: Gauge, signed_in: Callable[[str], Client]) -> None:
    answer = page(signed_in("auditor"), history, on)
    assert "no day that has been" in answer.content.decode()
    assert answer.context["description"]["serial"] == "S-2"


def test_limits_say_whether_they_are_confirmed(history: Gauge, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("technician")
    panel = (
        page(client, history, "2026-03-02").content.decode().split('id="limits"')[1].split("</section>")[0]
    )
    assert "not confirmed" in panel and "of the model" in panel and "−0.03" in panel
    panel = page(client, history).content.decode().split('id="limits"')[1].split("</section>")[0]
    assert "not confirmed" not in panel and "own" in panel and "−0.05" in panel


@pytest.mark.parametrize(
    ("role", "reads"),
    [
        ("manager", True),
        ("auditor", True),
        ("reviewer", True),
        ("administrator", True),
        ("technician", False),
    ],
)
def test_the_journal_is_for_who_may_read_it(
    role: str, reads: bool, history: Gauge, signed_in: Callable[[str], Client]
) -> None:
    body = page(signed_in(role), history).content.decode()
    assert ("In the journal" in body) == reads
    assert ("change gauge" in body) == reads


def test_the_journal_of_a_day_ends_there(history: Gauge, signed_in: Callable[[str], Client]) -> None:
    answer = page(signed_in("auditor"), history, "2026-03-03")
    acts = {entry.words for entry in answer.context["entries"]}
    assert "change gauge" in acts and "change state" not in acts
    change = next(entry for entry in answer.context["entries"] if entry.words == "change gauge")
    assert change.changes == ["note: engraved anew", "serial: S-1 → S-2"]


def test_a_long_life_asks_no_more_questions(
    history: Gauge, manager: Person, now: datetime, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in("manager")

    def asked() -> int:
        with CaptureQueriesContext(connection) as counted:
            page(client, history)
        return len(counted)

    asked()
    few = asked()
    for number in range(10):
        at = now + (6 + number) * DAY
        record_custody(gauge=history, kind="soaking", at=at, by=manager, now=at)
        add_member(gauge=history, label=f"{number}", nominal_mm=None, by=manager, now=at)
    assert asked() == few


def test_what_does_not_exist_is_said(signed_in: Callable[[str], Client]) -> None:
    assert signed_in("auditor").get(reverse("gauge", args=[10**9])).status_code == 404


def test_what_may_be_done_is_the_same_on_page_and_in_the_address_for_programs(
    history: Gauge, signed_in: Callable[[str], Client]
) -> None:
    from instruments.recall.operations import refresh_standing

    refresh_standing(history, timezone.now())
    client = signed_in("auditor")
    shown = page(client, history).context["standing"]
    told = client.get(reverse("api-gauge", args=[history.tag.text])).json()["standing"]
    assert (told["word"], told["reason"]) == (shown.word, shown.reason) == ("stop", "out of service")
