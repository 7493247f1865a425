"""Reading a logger's file: columns by their heads, times, numbers, and lines that are none."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from standards.climate.log_files import LARGEST_BYTES, Log, LogTooLarge, NoLog, NotCelsius, read_log
from standards.climate.log_rows import LogFault, LogRow

D = Decimal
VIENNA = ZoneInfo("Europe/Vienna")
ROW = LogRow(2, datetime(2025, 6, 10, 5, 0, tzinfo=UTC), D("20.125"), D("45.5"))


def read(text: str, encoding: str = "utf-8") -> Log:
    return read_log(text.encode(encoding), "log.csv", VIENNA)


@pytest.mark.parametrize(
    "text",
    [
        "Time;Temperature;Humidity\n2025-06-10 07:00;20,125;45,5\n",
        "timestamp,temp_c,rh\n2025-06-10T07:00:00,20.125,45.5\n",
        'time,temperature (°C),%RH\n2025-06-10T05:00Z,"20,125","45,5"\n',
        "Humidity\tTemp. [°C]\tDate/Time\n45.5 %\t20.125 °C\t2025-06-10T07:00+02:00\r\n",
        "Date;Time;T (°C);Hum\n2025-06-10;07:00;20,125;45,5",
        "No;Zeit;Temperatur;rel. Feuchte\n1;2025-06-10 07:00:00;20,125;45,5;\n",
    ],
)
def test_a_reading_is_read_whatever_the_columns_and_the_numbers_look_like(text: str) -> None:
    assert read(text).rows == (ROW,)
    assert read(text).faults == ()


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_in_the_letters_it_is_written_in(encoding: str) -> None:
    assert read("Time;°C;RH\n2025-06-10 07:00;20.125;45.5", encoding).rows == (ROW,)


def test_words_before_the_heads_are_passed_over_and_lines_keep_their_numbers() -> None:
    found = read(
        "Logger 7, room 2\nSerial: 815\n\nTime;Temp\n2025-06-10 07:00;20.1\n\n2025-06-10 07:05;20.2\n"
    )
    assert [(row.line, row.temperature_c) for row in found.rows] == [(5, D("20.100")), (7, D("20.200"))]
    assert found.rows[0].humidity_percent is None


def test_each_line_that_cant_be_read_is_named_and_no_other_is_lost() -> None:
    found = read(
        "Time;Temperature;Humidity\n"
        "2025-06-10 07:00;20.1;45\n"
        "10.06.2025 07:05;20.1;45\n"
        "2025-06-10 07:10;---;45\n"
        "2025-06-10 07:15;201;45\n"
        "2025-06-10 07:20;20.1;450\n"
        "2025-06-10;20.1;45\n"
        "2025-06-10 07:25;20.1;\n"
    )
    assert [row.line for row in found.rows] == [2, 8]
    time = "Expected a time such as 2026-11-25 07:43 or 2026-11-25T07:43+01:00, found"
    assert found.faults == (
        LogFault(3, f"{time} “10.06.2025 07:05”."),
        LogFault(4, "Expected a temperature between −20 and 60, found “---”."),
        LogFault(5, "Expected a temperature between −20 and 60, found “201”."),
        LogFault(6, "Expected a humidity between 0 and 100, found “450”."),
        LogFault(7, f"{time} “2025-06-10”."),
    )


def test_a_decimal_comma_between_commas_doesnt_move_the_numbers_into_other_columns() -> None:
    found = read("Time,Temperature,Humidity\n2025-06-10 07:00,20,1,45\n")
    assert found.rows == ()
    assert found.faults[0].sentence.startswith("Expected 3 columns, separated by comma, found “4: ")


@pytest.mark.parametrize("text", ["2025-10-26 02:30", "2025-03-30 02:30"])
def test_an_hour_that_stands_twice_or_never_needs_its_offset(text: str) -> None:
    found = read(f"Time;Temp\n{text};20.1\n{text}+01:00;20.1\n")
    assert [row.line for row in found.rows] == [3]
    assert "the clocks are changed in that hour" in found.faults[0].sentence


@pytest.mark.parametrize(
    "text", ["", "\n", "a;b;c\n1;2;3\n", "Time;Humidity\n2025-06-10 07:00;45\n", "Time\x00;Temp\n"]
)
def test_what_is_no_log_gets_a_sentence(text: str) -> None:
    with pytest.raises(NoLog, match="Expected a text file with a line of heads"):
        read(text)


def test_a_log_in_fahrenheit_is_refused() -> None:
    with pytest.raises(NotCelsius, match="Set the logger to °C"):
        read("Time;Temp (°F)\n2025-06-10 07:00;68.2\n")


def test_a_file_that_is_too_large_is_refused() -> None:
    with pytest.raises(LogTooLarge, match=r"5\.0 MB; at most 5 MB"):
        read_log(b"x" * (LARGEST_BYTES + 1), "log.csv", VIENNA)
