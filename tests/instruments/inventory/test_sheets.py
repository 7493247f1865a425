"""Sheets of gauges: judged row by row, registered whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from instruments.inventory.models import Gauge, GaugeImport
from instruments.inventory.operations.reasons import ReasonMissing
from instruments.inventory.operations.sheets import (
    ColumnMissing,
    ColumnTwice,
    NoRows,
    Sheet,
    SheetEnded,
    SheetHasFaults,
    TooManyRows,
    confirm_sheet,
    discard_sheet,
    judge,
    keep_sheet,
)
from instruments.inventory.queries import state_of
from labsys.accounts.models import Person
from labsys.journal.queries import about
from labsys.journal.roles import NotAllowed

COLUMNS = ("Tag", "Model", "Serial", "Department", "Place")
ROW = ("CAL-1", "Plant stores D150", "S-1", "TURN", "Lathe 4")

pytestmark = pytest.mark.usefixtures("model", "department", "place")


@pytest.fixture
def keep(technician: Person, now: datetime) -> Callable[..., GaugeImport]:
    def act(*rows: tuple[str, ...], columns: tuple[str, ...] = COLUMNS) -> GaugeImport:
        return keep_sheet(sheet=Sheet("gauges.csv", "ab" * 32, columns, rows), by=technician, now=now)

    return act


def test_a_sheet_is_registered_with_one_entry_each(
    keep: Callable[..., GaugeImport], technician: Person, now: datetime
) -> None:
    kept = keep(ROW, ("CAL-2", "plant stores d150", "S-2", "Turning shop", "lathe 4"))
    made = confirm_sheet(kept=kept, reason="taken over from the list", by=technician, now=now)
    assert [str(gauge) for gauge in made] == ["CAL-1", "CAL-2"]
    for gauge in Gauge.objects.all():
        assert state_of(gauge, now) == "new"
        assert gauge.functions == ["outside", "inside", "depth", "step"]
        assert about(f"gauge:{gauge.pk}").count() == 1
    assert about(f"gauge-import:{kept.pk}").count() == 2


@pytest.mark.parametrize(
    ("column", "text", "says"),
    [
        ("Tag", "", "is missing"),
        ("Tag", "cal-9", "is taken"),
        ("Tag", "CAL-1", "stands in 2 rows"),
        ("Tag", "X" * 41, "longer than 40"),
        ("Model", "Unknown 1", "no model “Unknown 1”"),
        ("Serial", "", "is missing"),
        ("Serial", "S" * 81, "at most 80"),
        ("Department", "MILL", "no department “MILL”"),
        ("Place", "", "is missing"),
        ("Custodian", "nobody", "no person “nobody”"),
        ("Owner", "friend", "is none of own"),
        ("Owner", "customer", "Name the owner"),
        ("Functions", "squint", "no measuring function"),
        ("Functions", "small bore", "has no function small_bore"),
        ("Calibration needed", "perhaps", "neither yes nor no"),
        ("Calibration needed", "no", "needs the reason why"),
        ("Check before use", "maybe", "neither yes nor no"),
    ],
)
def test_a_row_that_cannot_be_says_why_in_a_sentence(
    column: str,
    text: str,
    says: str,
    keep: Callable[..., GaugeImport],
    make_gauge: Callable[..., Gauge],
    technician: Person,
    now: datetime,
) -> None:
    make_gauge("CAL-9")
    columns = COLUMNS if column in COLUMNS else (*COLUMNS, column)
    second = dict(zip(COLUMNS, ("CAL-2", *ROW[1:]), strict=True)) | {column: text}
    kept = keep((*ROW, ""), tuple(second[name] for name in columns), columns=columns)
    judged = judge(kept)
    assert judged[1].number == 3
    assert says in " ".join(judged[1].faults)
    with pytest.raises(SheetHasFaults) as refusal:
        confirm_sheet(kept=kept, reason="list", by=technician, now=now)
    assert refusal.value.data["row"] in (2, 3)
    assert Gauge.objects.count() == 1


def test_all_faults_of_a_row_are_said_at_once(keep: Callable[..., GaugeImport]) -> None:
    (row,) = judge(keep(("", "", "", "", "")))
    assert len(row.faults) == 5


def test_a_name_of_two_people_is_no_name(keep: Callable[..., GaugeImport]) -> None:
    for username in ("one", "two"):
        Person.objects.create(username=username, name="shift lead")
    columns = (*COLUMNS, "Custodian")
    kept = keep((*ROW, "shift lead"), ("CAL-2", *ROW[1:], "two"), columns=columns)
    ambiguous, clear = judge(kept)
    assert "the name of 2" in ambiguous.faults[0]
    assert clear.data is not None and clear.data.custodian is not None
    assert clear.data.custodian.username == "two"


def test_words_are_read_as_people_write_them(keep: Callable[..., GaugeImport]) -> None:
    columns = (*COLUMNS, "functions", "CALIBRATION NEEDED", "Reason without calibration", "Unheard of")
    (row,) = judge(keep((*ROW, "Depth; outside", "No", "indication only", "x"), columns=columns))
    assert row.data is not None
    assert (row.data.functions, row.data.calibration_needed) == (("depth", "outside"), False)


def test_things_may_change_before_it_is_confirmed(
    keep: Callable[..., GaugeImport], make_gauge: Callable[..., Gauge], technician: Person, now: datetime
) -> None:
    kept = keep(ROW)
    assert judge(kept)[0].data is not None
    make_gauge("CAL-1")
    with pytest.raises(SheetHasFaults, match="is taken"):
        confirm_sheet(kept=kept, reason="list", by=technician, now=now)


def test_it_ends_once(keep: Callable[..., GaugeImport], technician: Person, now: datetime) -> None:
    confirmed, laid_aside = keep(ROW), keep(ROW)
    with pytest.raises(ReasonMissing):
        confirm_sheet(kept=confirmed, reason="", by=technician, now=now)
    confirm_sheet(kept=confirmed, reason="list", by=technician, now=now)
    discard_sheet(kept=laid_aside, by=technician, now=now)
    for ended, word in ((confirmed, "registered"), (laid_aside, "laid aside")):
        with pytest.raises(SheetEnded, match=word):
            confirm_sheet(kept=ended, reason="list", by=technician, now=now)
        with pytest.raises(SheetEnded, match=word):
            discard_sheet(kept=ended, by=technician, now=now)


def test_a_sheet_that_is_none(keep: Callable[..., GaugeImport]) -> None:
    with pytest.raises(ColumnMissing, match="“Serial”.*Tag, Model"):
        keep(ROW, columns=("Tag", "Model"))
    with pytest.raises(ColumnTwice, match="“Tag”"):
        keep(ROW, columns=(*COLUMNS, "tag "))
    with pytest.raises(NoRows):
        keep()
    with pytest.raises(TooManyRows, match="5001"):
        keep(*[ROW] * 5001)
    assert not GaugeImport.objects.exists()


def test_a_long_sheet_costs_no_more_questions(
    keep: Callable[..., GaugeImport], technician: Person, now: datetime
) -> None:
    def asked(kept: GaugeImport) -> int:
        with CaptureQueriesContext(
            connection,
        ) as counted:
            confirm_sheet(kept=kept, reason="list", by=technician, now=now + timedelta(days=1))
        return len(counted)

    few = keep(*[(f"A-{number}", *ROW[1:]) for number in range(3)])
    many = keep(*[(f"B-{number}", *ROW[1:]) for number in range(60)])
    assert asked(many) <= asked(few) + 2  # a batch of the journal's may need one statement more


@pytest.mark.parametrize("role", ["reviewer", "floor", "auditor"])
def test_sheets_are_for_who_registers(role: str, person: Callable[[str], Person], now: datetime) -> None:
    with pytest.raises(NotAllowed):
        keep_sheet(sheet=Sheet("a", "b", COLUMNS, (ROW,)), by=person(role), now=now)


def test_what_a_race_takes_is_refused_whole(
    technician: Person, now: datetime, make_gauge: Callable[..., Gauge], gauge_data: Any
) -> None:
    from dataclasses import replace

    from instruments.inventory.operations.gauges import TagsTakenMeanwhile, register_gauges

    make_gauge("CAL-1")
    items = [replace(gauge_data, tag="CAL-0"), replace(gauge_data, tag="cal-1")]
    with pytest.raises(TagsTakenMeanwhile):
        register_gauges(items=items, by=technician, now=now)
    assert Gauge.objects.count() == 1
