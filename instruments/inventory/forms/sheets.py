"""Reading a sheet of gauges out of a file: comma, semicolon or tab separated text, or a workbook."""

from __future__ import annotations

import csv
import hashlib
import io
import re
import zipfile
from datetime import date, datetime
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from instruments.inventory.forms.gauges import reason_field
from instruments.inventory.operations.sheets import Sheet
from labsys.errors import LabError

MOST_BYTES = 5 * 1024 * 1024
MOST_UNPACKED = 100 * 1024 * 1024
ZIP = b"PK\x03\x04"
SEPARATORS = ",;\t"
# The mark that an export puts before what a spreadsheet would take for a formula.
_MARKED = re.compile(r"'[=+\-@\t\r]")


class SheetTooLarge(LabError, ValueError):
    """The file is larger than any list of gauges that can be taken at once."""

    code: ClassVar[str] = "sheet-too-large"
    sentence: ClassVar[str] = "The file has {found} MB; the most is {most} MB. Bring it in parts."
    field: ClassVar[str | None] = "file"


class SheetUnreadable(LabError, ValueError):
    """The file is neither text in columns nor a workbook."""

    code: ClassVar[str] = "sheet-unreadable"
    sentence: ClassVar[str] = (
        "The file can't be read: {why} Save the list as CSV (UTF-8) or as an XLSX workbook."
    )
    field: ClassVar[str | None] = "file"


def read_sheet(name: str, content: bytes) -> Sheet:
    """Read a file by what it is, not by its name; raises SheetTooLarge, SheetUnreadable."""
    if len(content) > MOST_BYTES:
        raise SheetTooLarge(found=f"{len(content) / 2**20:.1f}", most=MOST_BYTES // 2**20)
    table = _workbook(content) if content.startswith(ZIP) else _text(content)
    rows = [tuple(_cell(value) for value in row) for row in table]
    rows = [row for row in rows if any(row)]
    if not rows:
        raise SheetUnreadable(why="there is nothing in it.")
    return Sheet(name, hashlib.sha256(content).hexdigest(), rows[0], tuple(rows[1:]))


def _text(content: bytes) -> list[list[str]]:
    text = _decoded(content)
    if "\0" in text:
        raise SheetUnreadable(why="it isn't text.")
    head = text.split("\n", 1)[0]
    separator = max(SEPARATORS, key=head.count)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as problem:
        raise SheetUnreadable(why=f"{problem}.") from problem


def _decoded(content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Office programs of western Europe save CSV in this encoding unless told otherwise.
        return content.decode("cp1252", errors="replace")


def _workbook(content: bytes) -> list[list[Any]]:
    import openpyxl  # type: ignore[import-untyped]  # large, and wanted only here
    from openpyxl.utils.exceptions import InvalidFileException  # type: ignore[import-untyped]

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            unpacked = sum(part.file_size for part in parts.infolist())
        if unpacked > MOST_UNPACKED:
            raise SheetTooLarge(found=f"{unpacked / 2**20:.0f} (unpacked)", most=MOST_UNPACKED // 2**20)
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        return [list(row) for row in book.worksheets[0].iter_rows(values_only=True)]
    except (zipfile.BadZipFile, InvalidFileException, KeyError, ValueError, OSError, IndexError) as problem:
        if isinstance(problem, LabError):
            raise
        raise SheetUnreadable(why="the workbook is damaged, or it is another kind of file.") from problem


def _cell(value: Any) -> str:
    """Give a cell as text; a whole number of a workbook loses its “.0”, an export's mark goes."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    text = str(value).strip()
    return text[1:] if _MARKED.match(text) else text


class UploadForm(forms.Form):
    """A file with gauges."""

    file = forms.FileField(
        label="File", help_text="CSV or XLSX, one gauge a row; the first row names the columns."
    )

    def clean_file(self) -> Sheet:
        """Read the file into a sheet."""
        sent: UploadedFile = self.cleaned_data["file"]
        try:
            return read_sheet(sent.name or "sheet", sent.read(MOST_BYTES + 1))
        except LabError as refusal:
            raise ValidationError(str(refusal)) from refusal


class ConfirmForm(forms.Form):
    """The reason for registering many gauges at once."""

    reason = reason_field()
