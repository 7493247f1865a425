"""The list of gauges: what the address asks for is what page, file and API give."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import openpyxl  # type: ignore[import-untyped]
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from instruments.inventory.models import Gauge
from instruments.inventory.operations import change_state
from instruments.recall.models import GaugeStanding
from labsys.accounts.models import Person
from labsys.laboratory.models import Department, Place
from labsys.laboratory.queries import local_date

Word = GaugeStanding.Word


def stand(gauge: Gauge, word: str, days: int | None = None) -> None:
    """Keep a standing that ends some days from today."""
    until = None if days is None else local_date(timezone.now()) + timedelta(days=days)
    GaugeStanding.objects.create(
        gauge=gauge, rank=16 if word != Word.STOP else 2, word=word, reason="", valid_until=until,
        derived_at=timezone.now(), state="in-service", in_laboratory=False,
    )  # fmt: skip


@pytest.fixture
def plant(
    make_gauge: Callable[..., Gauge], person: Callable[[str], Person], manager: Person, now: datetime
) -> None:
    """Five gauges that differ in everything a list can be narrowed by."""
    milling = Department.objects.create(code="MILL", name="Milling shop")
    cabinet = Place.objects.create(name="Cabinet 2")
    one = make_gauge("CAL-0001", serial="A77")
    two = make_gauge("CAL-0002", department=milling, note="jaw ground")
    three = make_gauge("cal-0003", place=cabinet, custodian=person("floor"))
    four = make_gauge("CAL-0004", owner="customer", owner_name="Plant north")
    make_gauge("CAL-0005")
    stand(one, Word.USE, 3)
    stand(two, Word.USE, -1)
    stand(three, Word.RESTRICTED, 60)
    stand(four, Word.STOP)
    later = now + timedelta(days=1)
    change_state(gauge=four, state="scrapped", reason="worn out", by=manager, now=later)
    change_state(gauge=one, state="in-service", reason="accepted", by=manager, now=later)


CASES = [
    ("", ["CAL-0001", "CAL-0002", "CAL-0004", "CAL-0005", "cal-0003"]),
    ("text=cal-0003", ["cal-0003"]),
    ("text=a77", ["CAL-0001"]),
    ("text=GROUND+d150", ["CAL-0002"]),
    ("text=ground+d200", []),
    ("family=caliper&department=MILL", ["CAL-0002"]),
    ("place=cabinet", ["cal-0003"]),
    ("custodian=FLOOR", ["cal-0003"]),
    ("owner=customer", ["CAL-0004"]),
    ("state=scrapped", ["CAL-0004"]),
    ("state=new", ["CAL-0002", "CAL-0005", "cal-0003"]),
    ("standing=use", ["CAL-0001"]),
    ("standing=restricted", ["cal-0003"]),
    ("standing=stop", ["CAL-0002", "CAL-0004", "CAL-0005"]),
    ("due=late", ["CAL-0002"]),
    ("due=7", ["CAL-0001"]),
    ("due=90", ["CAL-0001", "cal-0003"]),
    ("due_from=2020-01-01&due_until=2020-12-31", []),
    ("order=-tag&owner=own", ["cal-0003", "CAL-0005", "CAL-0002", "CAL-0001"]),
]


def on_page(client: Client, query: str) -> list[str]:
    answer = client.get(f"{reverse('gauges')}?{query}")
    assert answer.status_code == 200
    return [row.name for row in answer.context["table"].rows]


@pytest.mark.usefixtures("plant")
@pytest.mark.parametrize(("query", "tags"), CASES)
def test_page_file_and_api_give_the_same(
    query: str, tags: list[str], signed_in: Callable[[str], Client]
) -> None:
    client = signed_in("technician")
    assert on_page(client, query) == tags
    assert [row[0] for row in as_csv(client, query)[1:]] == tags
    answer = client.get(f"{reverse('api-gauges')}?{query}")
    assert answer.status_code == 200, answer.content
    assert [gauge["tag"] for gauge in answer.json()["results"]] == tags


def as_csv(client: Client, query: str) -> list[list[str]]:
    answer: Any = client.get(f"{reverse('gauges')}?{query}&as=csv")
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text)))


@pytest.mark.usefixtures("plant")
def test_the_page_says_what_it_shows(signed_in: Callable[[str], Client]) -> None:
    body = signed_in("technician").get(reverse("gauges")).content.decode()
    assert "5 gauges" in body
    assert body.count('class="state state-stop"') == 3
    assert body.count('class="state state-use"') == 1


def test_an_address_that_cannot_be_meant_gives_nothing_and_says_so(
    gauge: Gauge, signed_in: Callable[[str], Client]
) -> None:
    answer = signed_in("technician").get(reverse("gauges") + "?state=broken")
    assert answer.context["table"].rows == []
    assert "One thing is to be mended" in answer.content.decode()


@pytest.mark.usefixtures("plant")
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_file_holds_the_chosen_columns_and_no_others(
    kind: str, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in("technician")
    query = "columns=resolution&columns=due&columns=unit&order=due"
    if kind == "csv":
        table = as_csv(client, query)
    else:
        answer = client.get(f"{reverse('gauges')}?{query}&as=xlsx")
        cells = openpyxl.load_workbook(io.BytesIO(answer.content)).active.iter_rows(values_only=True)
        table = [["" if cell is None else cell for cell in row] for row in cells]
    assert table[0] == ["Tag", "Due", "Resolution", "Unit"]
    assert [row[0] for row in table[1:]] == ["CAL-0002", "CAL-0001", "cal-0003", "CAL-0004", "CAL-0005"]
    assert table[1][2:] == ["0.01", "mm"]  # text in both: a number would lose the step
    assert date.fromisoformat(table[1][1]) < local_date(timezone.now())


@pytest.mark.usefixtures("plant")
def test_chosen_columns_are_kept(signed_in: Callable[[str], Client]) -> None:
    client = signed_in("technician")
    client.get(reverse("gauges") + "?columns=serial")
    answer = client.get(reverse("gauges"))
    assert [column.key for column in answer.context["table"].columns] == ["tag", "serial"]


@pytest.mark.parametrize("evil", ["=HYPERLINK(1)", "+cmd|' /C calc'!A0", "-2+3", "@SUM(1)"])
def test_no_cell_is_a_formula(
    evil: str, make_gauge: Callable[..., Gauge], signed_in: Callable[[str], Client]
) -> None:
    make_gauge("CAL-1", note=evil)
    table = as_csv(signed_in("technician"), "columns=note")
    assert table[1][1] == f"'{evil}"


def test_an_unknown_kind_of_file_is_refused(gauge: Gauge, signed_in: Callable[[str], Client]) -> None:
    answer = signed_in("technician").get(reverse("gauges") + "?as=exe")
    assert answer.status_code == 409
    assert "csv or xlsx" in answer.content.decode()


def test_pages_neither_jump_nor_repeat(
    make_gauge: Callable[..., Gauge], signed_in: Callable[[str], Client]
) -> None:
    for number in range(120):
        make_gauge(f"CAL-{number:04}", serial="same")
    client = signed_in("technician")
    for query in ("order=serial", "order=-due", "order=tag"):
        seen, address = [], f"{reverse('gauges')}?{query}"
        while address:
            answer = client.get(address)
            seen += [row.name for row in answer.context["table"].rows]
            after = answer.context["page"].after
            address = f"{reverse('gauges')}?{query}&page={after}" if after else ""
        assert len(seen) == len(set(seen)) == 120


@pytest.mark.parametrize("address", ["gauges", "api-gauges"])
def test_more_gauges_ask_no_more_questions(
    address: str, make_gauge: Callable[..., Gauge], signed_in: Callable[[str], Client]
) -> None:
    client = signed_in("technician")

    def asked() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert client.get(reverse(address)).status_code == 200
        return len(counted)

    stand(make_gauge("CAL-A"), Word.USE, 3)
    asked()  # the first answer fills what is kept
    few = asked()
    for number in range(30):
        stand(make_gauge(f"CAL-{number}"), Word.USE, 3)
    assert asked() == few <= 12


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("manager", 200),
        ("technician", 200),
        ("reviewer", 200),
        ("auditor", 200),
        ("administrator", 200),
        ("floor", 403),
    ],
)
@pytest.mark.parametrize("address", ["gauges", "api-gauges", "gauge-models"])
def test_who_may_read(address: str, role: str, status: int, signed_in: Callable[[str], Client]) -> None:
    assert signed_in(role).get(reverse(address)).status_code == status


def test_nobody_reads_without_signing_in(db: None) -> None:
    assert Client().get(reverse("gauges")).headers["Location"].startswith(reverse("account_login"))
    assert Client().get(reverse("api-gauges")).status_code == 401
