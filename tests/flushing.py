"""Emptying the database between tests that need real transactions, although its tables refuse to be emptied.

SQLite empties by DELETE, which the append-only triggers stop; they are taken off for that moment and put back.
PostgreSQL truncates, which row triggers don't see.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection
from django.test import TransactionTestCase


@contextmanager
def triggers_off() -> Iterator[None]:
    """Take every append-only trigger off, and put each back as it was."""
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        triggers = cursor.fetchall()
        for name, _sql in triggers:
            cursor.execute(f'DROP TRIGGER "{name}"')
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            for _name, sql in triggers:
                cursor.execute(sql)


def install() -> None:
    """Make every transactional test empty the database with the triggers off."""
    emptying: Any = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]

    def teardown(self: TransactionTestCase) -> None:
        with triggers_off():
            emptying(self)

    TransactionTestCase._fixture_teardown = teardown  # type: ignore[attr-defined]
