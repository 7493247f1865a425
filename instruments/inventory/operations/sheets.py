"""Acts on sheets of gauges: keep what was read, judge it row by row, register all of it or nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.models import Gauge, GaugeImport
from instruments.inventory.operations.gauges import register_gauges
from instruments.inventory.operations.reasons import given
from instruments.inventory.operations.rows import HEADINGS, REQUIRED, SheetRow, judge_rows
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date

MOST_ROWS = 5_000


class ColumnMissing(LabError, ValueError):
    """The sheet lacks a column that every gauge needs."""

    code: ClassVar[str] = "column-missing"
    sentence: ClassVar[str] = (
        "The sheet has no column “{missing}”. Its first row must name the columns; it names: {found}."
    )
    field: ClassVar[str | None] = "file"


class ColumnTwice(LabError, ValueError):
    """Two columns of one name: nobody knows which is meant."""

    code: ClassVar[str] = "column-twice"
    sentence: ClassVar[str] = (
        "The sheet has the column “{twice}” more than once. Remove the one that isn't meant."
    )
    field: ClassVar[str | None] = "file"


class NoRows(LabError, ValueError):
    """A sheet without gauges."""

    code: ClassVar[str] = "no-rows"
    sentence: ClassVar[str] = (
        "The sheet names its columns and nothing below them. Write one gauge into each row."
    )
    field: ClassVar[str | None] = "file"


class TooManyRows(LabError, ValueError):
    """More gauges than one act takes."""

    code: ClassVar[str] = "too-many-rows"
    sentence: ClassVar[str] = (
        "The sheet has {found} rows; the most is {most}. Cut it in parts and bring them one by one."
    )
    field: ClassVar[str | None] = "file"


class SheetHasFaults(LabError):
    """Some rows can't be registered, so none is."""

    code: ClassVar[str] = "sheet-has-faults"
    sentence: ClassVar[str] = (
        "{faulty} of {rows} rows can't be registered, so none was. Row {row}: {first} Mend the sheet, bring it again."
    )


class SheetEnded(LabError):
    """The sheet was confirmed or laid aside before."""

    code: ClassVar[str] = "sheet-ended"
    sentence: ClassVar[str] = (
        "The sheet {name} was {ended} on {day} already. Bring a sheet again to register more."
    )


@dataclass(frozen=True)
class Sheet:
    """A sheet as read: its name, the hash of the file, the names of its columns, its cells as text."""

    file_name: str
    file_sha256: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def recognised(columns: Sequence[str]) -> dict[str, int]:
    """Find which column of the sheet holds which field; headings count whatever their capitals."""
    wanted = {heading.casefold(): name for name, heading in HEADINGS.items()}
    return {
        wanted[title.strip().casefold()]: number
        for number, title in enumerate(columns)
        if title.strip().casefold() in wanted
    }


@act("inventory.keep-sheet")
def keep_sheet(*, sheet: Sheet, by: Person, now: datetime) -> GaugeImport:
    """Keep a sheet as read, until it is confirmed or laid aside; nothing is registered yet.

    Raises ColumnMissing, ColumnTwice, NoRows, TooManyRows.
    """
    require(by, MANAGE_GAUGES)
    _refuse_columns(sheet.columns)
    if not sheet.rows:
        raise NoRows()
    if len(sheet.rows) > MOST_ROWS:
        raise TooManyRows(found=len(sheet.rows), most=MOST_ROWS)
    row = GaugeImport.objects.create(
        uploaded_by=by,
        uploaded_at=now,
        file_name=sheet.file_name[:200],
        file_sha256=sheet.file_sha256,
        columns=list(sheet.columns),
        rows=[list(cells) for cells in sheet.rows],
    )
    after = {"file": row.file_name, "file_sha256": row.file_sha256, "rows": len(row.rows)}
    note(f"gauge-import:{row.pk}", after=after)
    return row


def _refuse_columns(columns: Sequence[str]) -> None:
    found = recognised(columns)
    for name in REQUIRED:
        if name not in found:
            named = ", ".join(title for title in columns if title.strip()) or "nothing"
            raise ColumnMissing(missing=HEADINGS[name], found=named)
    counted = Counter(title.strip().casefold() for title in columns)
    for name in found:
        if counted[HEADINGS[name].casefold()] > 1:
            raise ColumnTwice(twice=HEADINGS[name])


def judge(kept: GaugeImport) -> list[SheetRow]:
    """Judge every row of a kept sheet as of now: what it would register, or the sentences that say why not."""
    places = recognised(kept.columns)
    cells = [
        {name: row[number].strip() if number < len(row) else "" for name, number in places.items()}
        for row in kept.rows
    ]
    return judge_rows(cells)


@act("inventory.confirm-sheet")
def confirm_sheet(*, kept: GaugeImport, reason: str, by: Person, now: datetime) -> list[Gauge]:
    """Register every gauge of a kept sheet, or none; the rows are judged again, for things may have changed.

    Raises SheetEnded, ReasonMissing, SheetHasFaults, TagsTakenMeanwhile.
    """
    require(by, MANAGE_GAUGES)
    subject = f"gauge-import:{kept.pk}"
    row = _open(kept)
    why = given(reason, what="many gauges at once", subject=subject)
    judged = judge(row)
    faulty = [one for one in judged if one.data is None]
    if faulty:
        first = faulty[0]
        raise SheetHasFaults(
            faulty=len(faulty), rows=len(judged), row=first.number, first=first.faults[0], subject=subject
        )
    made = register_gauges(items=[one.data for one in judged if one.data is not None], by=by, now=now)
    row.confirmed_at, row.reason = now, why
    row.save(update_fields=["confirmed_at", "reason"])
    note(subject, reason=why, after={"registered": len(made), "file_sha256": row.file_sha256})
    return made


@act("inventory.discard-sheet")
def discard_sheet(*, kept: GaugeImport, by: Person, now: datetime) -> None:
    """Lay a kept sheet aside: nothing of it is registered. Raises SheetEnded."""
    require(by, MANAGE_GAUGES)
    row = _open(kept)
    row.discarded_at = now
    row.save(update_fields=["discarded_at"])
    note(f"gauge-import:{row.pk}", after={"laid_aside": row.file_name})


def _open(kept: GaugeImport) -> GaugeImport:
    row = GaugeImport.objects.select_for_update().get(pk=kept.pk)
    ended = row.confirmed_at or row.discarded_at
    if ended is not None:
        raise SheetEnded(
            name=row.file_name,
            ended="registered" if row.confirmed_at else "laid aside",
            day=f"{local_date(ended):%Y-%m-%d}",
            subject=f"gauge-import:{row.pk}",
        )
    return row
