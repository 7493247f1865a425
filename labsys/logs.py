"""How log lines look, and the request id that ties the lines of one request together.

The standard library's logging is enough: a structured-logging middleware cost twice an empty page.
"""

from __future__ import annotations

import json
import logging
from contextvars import ContextVar
from typing import Any

request_id: ContextVar[str] = ContextVar("request_id", default="")

_STANDARD = frozenset(logging.makeLogRecord({}).__dict__) | {"message", "asctime", "request_id"}


class RequestIdFilter(logging.Filter):
    """Puts the current request's id on every record."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record through, with its id."""
        record.request_id = request_id.get() or "-"
        return True


class JsonFormatter(logging.Formatter):
    """Writes one JSON object per line, fields passed as ``extra`` included."""

    def format(self, record: logging.LogRecord) -> str:
        """Give the record as one line of JSON."""
        line: dict[str, Any] = {
            "at": self.formatTime(record, "%Y-%m-%dT%H:%M:%S%z"),
            "level": record.levelname,
            "logger": record.name,
            "request_id": getattr(record, "request_id", "-"),
            "message": record.getMessage(),
        }
        line.update((key, value) for key, value in record.__dict__.items() if key not in _STANDARD)
        if record.exc_info:
            line["exception"] = self.formatException(record.exc_info)
        return json.dumps(line, default=str, ensure_ascii=False)


def configuration(shape: str, level: str) -> dict[str, Any]:
    """Give the logging configuration for ``shape`` (text or json) from ``level`` upward, on standard error."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {"request_id": {"()": RequestIdFilter}},
        "formatters": {
            "text": {"format": "%(asctime)s %(levelname)s %(name)s [%(request_id)s] %(message)s"},
            "json": {"()": JsonFormatter},
        },
        "handlers": {
            "stderr": {"class": "logging.StreamHandler", "formatter": shape, "filters": ["request_id"]},
        },
        "root": {"handlers": ["stderr"], "level": level},
        "loggers": {
            "django": {"handlers": [], "level": level, "propagate": True},
            # The renderer tells every step of every page; what goes wrong it tells elsewhere.
            "weasyprint.progress": {"level": "WARNING"},
        },
    }
