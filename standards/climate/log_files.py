"""A logger's file: which columns it has, found by their heads, and its readings, line by line.

Lives here: looking at text. Nothing is stored; a line that can't be read keeps no other from being taken.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar
from zoneinfo import ZoneInfo

from labsys.errors import LabError
from standards.climate.log_rows import LogFault, LogRow, RowUnreadable, row_of

LARGEST_BYTES = 5 * 1024 * 1024
HEAD_WITHIN = 60
DELIMITERS = {";": "semicolon", "\t": "tab", ",": "comma"}
_TIME = re.compile(r"^(date|time|timestamp|datum|zeit|uhrzeit)", re.IGNORECASE)
_TEMPERATURE = re.compile(r"^(temp|t\b|t_|°c)", re.IGNORECASE)
_HUMIDITY = re.compile(r"^(hum|rel|rh\b|r\.?h|%\s*rh|feucht)", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"°\s*f\b|fahrenheit|\(f\)|\[f\]", re.IGNORECASE)


class LogTooLarge(LabError, ValueError):
    """More than a log of a thermometer has."""

    code: ClassVar[str] = "log-too-large"
    sentence: ClassVar[str] = (
        "“{name}” has {found} MB; at most {most} MB are taken at once. Export a shorter time."
    )
    field: ClassVar[str | None] = "file"


class NoLog(LabError, ValueError):
    """A file in which no head of columns is found."""

    code: ClassVar[str] = "no-log"
    sentence: ClassVar[str] = (
        "Expected a text file with a line of heads, among them one for the time and one for the temperature (“Time; "
        "Temperature; Humidity”), separated by semicolon, comma or tab. {found} Export the log as CSV."
    )
    field: ClassVar[str | None] = "file"


class NotCelsius(LabError, ValueError):
    """A log in degrees that the laboratory doesn't use."""

    code: ClassVar[str] = "not-celsius"
    sentence: ClassVar[str] = (
        "The column “{found}” is not in °C. Set the logger to °C and export the log again."
    )
    field: ClassVar[str | None] = "file"


@dataclass(frozen=True)
class Log:
    """What a file holds: its readings, the lines that are none, and its text as it came."""

    text: str
    rows: tuple[LogRow, ...]
    faults: tuple[LogFault, ...]


@dataclass(frozen=True)
class _Columns:
    """Where things stand in a line; ``times`` are one or two columns, a date and a time of day."""

    line: int
    delimiter: str
    count: int
    times: tuple[int, ...]
    temperature: int
    humidity: int | None


def read_log(content: bytes, name: str, zone: ZoneInfo) -> Log:
    """Read a logger's file; raises LogTooLarge, NoLog, NotCelsius. Unreadable lines are named, not raised."""
    if len(content) > LARGEST_BYTES:
        found, most = f"{len(content) / 1024**2:.1f}", LARGEST_BYTES // 1024**2
        raise LogTooLarge(name=name, found=found, most=most)
    text = _decoded(content)
    lines = text.splitlines()
    columns = _columns(lines)
    rows: list[LogRow] = []
    faults: list[LogFault] = []
    for line, cells in _cells(lines, columns):
        try:
            rows.append(row_of(line, _texts(cells, columns), zone))
        except RowUnreadable as problem:
            faults.append(LogFault(line, str(problem)))
    return Log(text, tuple(rows), tuple(faults))


def _decoded(content: bytes) -> str:
    """Read the bytes as the text they are: UTF-8, UTF-16 with its mark, otherwise Windows' western letters."""
    encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    if not text.strip() or "\x00" in text:
        raise NoLog(found="Found an empty file." if not text.strip() else "Found what is no text.")
    return text


def _columns(lines: list[str]) -> _Columns:
    for number, line in enumerate(lines[:HEAD_WITHIN], start=1):
        for delimiter in DELIMITERS:
            heads = [head.strip() for head in _split(line, delimiter)]
            found = _heads(heads, number, delimiter)
            if found is not None:
                return found
    raise NoLog(found=f"Found “{lines[0].strip()[:60]}” in line 1.")


def _heads(heads: list[str], number: int, delimiter: str) -> _Columns | None:
    times = tuple(index for index, head in enumerate(heads) if _TIME.match(head))
    temperature = next((index for index, head in enumerate(heads) if _TEMPERATURE.match(head)), None)
    if not times or temperature is None:
        return None
    if _FAHRENHEIT.search(heads[temperature]):
        raise NotCelsius(found=heads[temperature])
    humidity = next((index for index, head in enumerate(heads) if _HUMIDITY.match(head)), None)
    return _Columns(number, delimiter, len(heads), times[:2], temperature, humidity)


def _cells(lines: list[str], columns: _Columns) -> Iterator[tuple[int, list[str]]]:
    """Give the cells of every line below the heads; empty lines say nothing."""
    for number, line in enumerate(lines[columns.line :], start=columns.line + 1):
        if line.strip(f" {columns.delimiter}\t"):
            yield number, _split(line, columns.delimiter)


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=False))
    except (csv.Error, StopIteration):
        return [line]


def _texts(cells: list[str], columns: _Columns) -> tuple[str, str, str]:
    """Give time, temperature and humidity of a line; raises RowUnreadable where it has not the columns of its head."""
    if len(cells) != columns.count and len([cell for cell in cells if cell.strip()]) > columns.count:
        # A decimal comma between commas would silently put every number into the next column.
        said = f"{columns.count} columns, separated by {DELIMITERS[columns.delimiter]}"
        raise RowUnreadable(said, f"{len(cells)}: {columns.delimiter.join(cells)}")
    padded = [*cells, *[""] * (columns.count - len(cells))]
    time = " ".join(padded[index].strip() for index in columns.times)
    return time, padded[columns.temperature], "" if columns.humidity is None else padded[columns.humidity]
