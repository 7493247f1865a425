"""Reads and checks the environment: every variable the program knows is listed here, once, with what it is for.

Nothing else reads ``os.environ`` (the first step in bootstrap.py excepted, which runs before any library is there).
A bad value is reported at start, all of them together, each with what to set.
"""

from __future__ import annotations

import os
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Variable:
    """One environment variable: its name, how its text is read, its default as text, and what it is for.

    The value of a ``secret`` one (an address may hold a password) never stands in a message.
    """

    name: str
    reads: Callable[[str], Any]
    default: str
    says: str
    secret: bool = False


def _text(value: str) -> str:
    return value.strip()


def _names(value: str) -> list[str]:
    return [part.strip() for part in value.split(",") if part.strip()]


def _yes(value: str) -> bool:
    words = {
        "1": True,
        "yes": True,
        "true": True,
        "on": True,
        "0": False,
        "no": False,
        "false": False,
        "off": False,
    }
    if value.strip().lower() not in words:
        raise ValueError("expected yes or no")
    return words[value.strip().lower()]


def _count(value: str) -> int:
    if not value.strip().isdigit() or int(value) < 1:
        raise ValueError("expected a whole number, 1 or more")
    return int(value)


def _folder(value: str) -> Path:
    path = Path(value).expanduser()
    return path if path.is_absolute() else ROOT / path


def _zone(value: str) -> str:
    try:
        zoneinfo.ZoneInfo(value)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError) as error:
        raise ValueError("expected the name of a time zone such as Europe/Vienna") from error
    return value


def _site(value: str) -> str:
    parts = urlsplit(value)
    if parts.scheme not in {"http", "https"} or not parts.hostname:
        raise ValueError("expected an address such as https://lab.example")
    return value.rstrip("/")


def _address(*schemes: str) -> Callable[[str], str]:
    def read(value: str) -> str:
        if value and urlsplit(value).scheme not in schemes:
            raise ValueError(
                f"expected an address that starts with {' or '.join(s + '://' for s in schemes)}"
            )
        return value

    return read


def _one_of(*choices: str) -> Callable[[str], str]:
    def read(value: str) -> str:
        if value not in choices:
            raise ValueError(f"expected one of {', '.join(choices)}")
        return value

    return read


class BadEnvironment(ImproperlyConfigured):
    """The environment names something the program can't start with; every such thing stands in the message."""


DATABASES = ("sqlite", "postgres", "postgresql")

VARIABLES: tuple[Variable, ...] = (
    Variable(
        "LABSYS_VAR", _folder, "var", "Folder for what the program writes: database, files, mail, broker."
    ),
    Variable(
        "LABSYS_SECRET_KEY",
        _text,
        "",
        "Signing key; made once and kept in the var folder when empty.",
        secret=True,
    ),
    Variable("LABSYS_DEBUG", _yes, "no", "Django's debug pages; never where others can reach it."),
    Variable(
        "LABSYS_URL", _site, "http://127.0.0.1:8000", "Address people type; stands in mails and on labels."
    ),
    Variable(
        "LABSYS_HOSTS", _names, "127.0.0.1,localhost,[::1]", "Host names answered besides that of LABSYS_URL."
    ),
    Variable("LABSYS_PROXY", _yes, "no", "A proxy in front ends https and sets X-Forwarded-Proto itself."),
    Variable("LABSYS_PROCESSES", _count, "1", "How many web processes serve; more than one needs REDIS_URL."),
    Variable(
        "LABSYS_ZONE", _zone, "Europe/Vienna", "The laboratory's time zone; dates on pages are its dates."
    ),
    Variable(
        "DATABASE_URL",
        _address(*DATABASES),
        "",
        "PostgreSQL; an SQLite file in the var folder when empty.",
        secret=True,
    ),
    Variable(
        "REDIS_URL",
        _address("redis", "rediss"),
        "",
        "Cache and broker; memory and a folder when empty.",
        secret=True,
    ),
    Variable(
        "SMTP_URL",
        _address("smtp", "smtp+tls", "smtp+ssl"),
        "",
        "Mail server; mails become files when empty.",
        secret=True,
    ),
    Variable("LABSYS_MAIL_FROM", _text, "laboratory@localhost", "Sender of every mail."),
    Variable(
        "LABSYS_METRICS_KEY",
        _text,
        "",
        "Who sends it may read /metrics from elsewhere; empty: nobody.",
        secret=True,
    ),
    Variable("LABSYS_LOG_FORMAT", _one_of("text", "json"), "text", "Shape of a log line."),
    Variable(
        "LABSYS_LOG_LEVEL", _one_of("DEBUG", "INFO", "WARNING", "ERROR"), "INFO", "Least severity logged."
    ),
)


def read(source: dict[str, str] | None = None) -> dict[str, Any]:
    """Read every variable from ``source`` (the process's environment when None).

    Raises BadEnvironment naming every bad value at once, with what was expected.
    """
    found = dict(os.environ) if source is None else source
    values: dict[str, Any] = {}
    problems: list[str] = []
    for variable in VARIABLES:
        text = found.get(variable.name) or variable.default
        try:
            values[variable.name] = variable.reads(text)
        except ValueError as error:
            found_text = "something else" if variable.secret else repr(text)
            problems.append(f"{variable.name}: {error}, found {found_text}. {variable.says}")
    if not problems:
        problems = _together(values)
    if problems:
        raise BadEnvironment(
            "The environment needs a change before the program can start:\n  " + "\n  ".join(problems)
        )
    return values


def _together(values: dict[str, Any]) -> list[str]:
    """Name combinations that can't work, each with what to set."""
    problems = []
    if values["LABSYS_URL"].startswith("https") and not values["LABSYS_SECRET_KEY"]:
        problems.append("LABSYS_SECRET_KEY: needed where LABSYS_URL is https. Set 50 random characters.")
    if values["LABSYS_PROCESSES"] > 1 and not values["REDIS_URL"]:
        problems.append(
            "REDIS_URL: needed with LABSYS_PROCESSES above 1 (log-in limits must be shared). Set it."
        )
    return problems
