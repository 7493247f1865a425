"""A log line is one line, whatever is in it, and says which request it belongs to."""

from __future__ import annotations

import json
import logging

from labsys.logs import JsonFormatter, RequestIdFilter, configuration, request_id


def record(message: str, **extra: object) -> logging.LogRecord:
    made = logging.makeLogRecord({"name": "labsys.jobs", "levelname": "INFO", "msg": message, **extra})
    RequestIdFilter().filter(made)
    return made


def test_a_line_of_json_holds_message_fields_and_request() -> None:
    request_id.set("0815")
    line = JsonFormatter().format(record("Two\nlines, 25 µm", gauge="C-0001"))
    assert "\n" not in line
    found = json.loads(line)
    assert found["message"] == "Two\nlines, 25 µm"
    assert (found["gauge"], found["request_id"], found["level"]) == ("C-0001", "0815", "INFO")


def test_an_exception_stands_in_its_line() -> None:
    try:
        raise ValueError("no such gauge")
    except ValueError as error:
        line = JsonFormatter().format(record("failed", exc_info=(ValueError, error, error.__traceback__)))
    assert "ValueError: no such gauge" in json.loads(line)["exception"]
    assert "\n" not in line


def test_outside_a_request_there_is_no_id() -> None:
    request_id.set("")
    assert record("swept").request_id == "-"  # type: ignore[attr-defined]


def test_both_shapes_are_configured_at_the_wanted_level() -> None:
    for shape in ("text", "json"):
        made = configuration(shape, "WARNING")
        assert made["handlers"]["stderr"]["formatter"] in made["formatters"]
        assert made["root"]["level"] == "WARNING"
