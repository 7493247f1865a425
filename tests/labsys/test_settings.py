"""The decisions in settings.py that records depend on, seen from a live connection."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from labsys import env

only_on_sqlite = pytest.mark.skipif(
    "sqlite3" not in settings.DATABASES["default"]["ENGINE"], reason="only on SQLite: its own options"
)


@only_on_sqlite
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("pragma", "value"),
    [
        ("journal_mode", "wal"),
        ("synchronous", 2),
        ("foreign_keys", 1),
    ],  # 2 is FULL (sqlite.org, PRAGMA synchronous)
)
def test_an_acknowledged_reading_survives_a_power_cut(pragma: str, value: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA {pragma}")
        assert cursor.fetchone()[0] == value


@only_on_sqlite
@pytest.mark.django_db
def test_a_transaction_takes_the_writer_at_its_beginning() -> None:
    assert connection.settings_dict["OPTIONS"]["transaction_mode"] == "IMMEDIATE"


@pytest.mark.parametrize("directive", ["script-src", "style-src"])
def test_pages_may_hold_nothing_inline(client: Client, directive: str) -> None:
    policy = client.get("/health/live")["Content-Security-Policy"]
    parts = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert parts[directive] == "'self'"
    assert parts["default-src"] == parts["base-uri"] == "'none'"


def test_every_answer_carries_an_id(client: Client) -> None:
    own = client.get("/health/live")["X-Request-Id"]
    assert len(own) == 32
    assert (
        client.get("/health/live", headers={"X-Request-Id": "proxy-0815-x"})["X-Request-Id"] == "proxy-0815-x"
    )
    assert client.get("/health/live", headers={"X-Request-Id": "bad id\n"})["X-Request-Id"] not in (
        "bad id\n",
        own,
    )


@pytest.mark.django_db
def test_nobody_signs_up_by_themselves(client: Client) -> None:
    form = {
        "username": "stranger",
        "email": "s@x.invalid",
        "password1": "long enough for it",
        "password2": "long enough for it",
    }
    client.post("/account/signup/", form)
    from labsys.accounts.models import Person

    assert not Person.objects.exists()


# Whether other names under the laboratory's domain may be http too is not the program's to decide.
LEFT_TO_THE_LABORATORY = {"security.W005", "security.W021"}


def test_behind_https_django_has_nothing_to_object() -> None:
    environment = {
        "PATH": os.environ["PATH"],
        "LABSYS_VAR": os.environ["LABSYS_VAR"],
        "LABSYS_URL": "https://lab.example",
        "LABSYS_SECRET_KEY": "fifty-characters-that-nobody-else-has-or-could-guess-0815",
        "LABSYS_PROXY": "yes",
        "LABSYS_BOOTSTRAP": "0",
    }
    command = [sys.executable, "manage.py", "check", "--deploy", "--tag", "security"]
    done = subprocess.run(command, cwd=env.ROOT, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert set(re.findall(r"\(([a-z_]+\.[EW]\d+)\)", done.stderr)) <= LEFT_TO_THE_LABORATORY, done.stderr


def test_a_bad_environment_stops_the_start_with_a_sentence() -> None:
    environment = {"PATH": os.environ["PATH"], "LABSYS_ZONE": "Nowhere", "LABSYS_BOOTSTRAP": "0"}
    command = [sys.executable, "manage.py", "check"]
    done = subprocess.run(command, cwd=env.ROOT, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert (
        "LABSYS_ZONE: expected the name of a time zone such as Europe/Vienna, found 'Nowhere'" in done.stderr
    )


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("host", "status"),
    [("localhost", 200), ("127.0.0.1:8000", 200), ("[::1]", 200), ("stranger.example", 400)],
)
def test_only_the_laboratorys_own_names_are_answered(client: Client, host: str, status: int) -> None:
    assert client.get("/account/login/", headers={"host": host}).status_code == status
