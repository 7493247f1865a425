"""Lists as files: CSV and XLSX of exactly what is shown, lengths as text so that no step is lost."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Protocol

from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase

from labsys.errors import LabError

_NUMBER = re.compile(r"[+\-−]?\d+([.,]\d+)?")
_MARKED = ("=", "+", "-", "@", "\t", "\r")
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class UnknownFormat(LabError, ValueError):
    """A list was asked for in a format that is not made."""

    code = "unknown-format"
    sentence = "Lists are given as csv or xlsx; “{found}” is neither."


class _Writer(Protocol):
    def writerow(self, row: Iterable[Any], /) -> Any: ...


class _Echo:
    """A file that gives back what is written, so that rows stream out one by one."""

    def write(self, text: str) -> str:
        return text


def harmless(value: Any) -> str:
    """Give a cell's text so that no spreadsheet takes it for a formula; numbers with a sign stay numbers."""
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, datetime | date):
        return value.isoformat()
    text = str(value)
    if text.startswith(_MARKED) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def answer(
    name: str, *, headings: Sequence[str], rows: Iterable[Sequence[Any]], kind: str
) -> HttpResponseBase:
    """Answer with the list as a file to keep; ``kind`` is csv or xlsx, ``name`` the file's name without an ending."""
    if kind == "csv":
        response: HttpResponseBase = StreamingHttpResponse(
            _csv(headings, rows), content_type="text/csv; charset=utf-8"
        )
    elif kind == "xlsx":
        response = HttpResponse(_xlsx(headings, rows), content_type=XLSX)
    else:
        raise UnknownFormat(found=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return response


def _csv(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    writer: _Writer = csv.writer(_Echo())
    # Spreadsheets read UTF-8 only behind this mark.
    yield "\N{ZERO WIDTH NO-BREAK SPACE}"
    yield writer.writerow(headings)
    for row in rows:
        yield writer.writerow([harmless(cell) for cell in row])


def _xlsx(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    import tablib  # loads openpyxl and with it numpy, which only this needs

    data = tablib.Dataset(headers=list(headings))
    for row in rows:
        data.append([harmless(cell) for cell in row])
    content: bytes = data.export("xlsx", escape=False)
    return content
