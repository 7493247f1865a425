"""Rows for any table, made up column by column: to try the guards of tables that need half a laboratory to fill.

Only good inside a transaction that is rolled back: what the rows point at doesn't exist. Both engines look for that
at the end of a transaction, and checks of single columns are switched off while the row goes in.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import connection, models, transaction

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
_VALUES: tuple[tuple[type[models.Field], Any], ...] = (
    (models.BooleanField, True),
    (models.DateTimeField, AT),
    (models.DateField, date(2026, 3, 2)),
    (models.TimeField, time(9, 30)),
    (models.DecimalField, Decimal(1)),
    (models.FloatField, 1.0),
    (models.UUIDField, UUID(int=1)),
    (models.JSONField, {}),
    (models.BinaryField, b"x"),
    (models.GenericIPAddressField, "127.0.0.1"),
    (models.IntegerField, 1),
    (models.CharField, "x"),
    (models.TextField, "x"),
    (models.FileField, "x"),
    (models.OneToOneField, 1),
    (models.ForeignKey, 1),
)


class _RolledBack(Exception):
    """Ends the block and takes everything back."""


def model_of(table: str) -> type[models.Model]:
    """Give the model of a table."""
    return next(model for model in apps.get_models() if model._meta.db_table == table)


def _value(field: models.Field, empty: tuple[str, ...]) -> Any:
    if field.column in empty:
        return None if field.null else ""
    return next(value for kind, value in _VALUES if isinstance(field, kind))


@contextmanager
def row(table: str, *, empty: tuple[str, ...] = ()) -> Iterator[int]:
    """Put a made-up row into the table and give its key; everything is taken back at the end of the block.

    ``empty`` are columns left without a value.
    """
    model = model_of(table)
    fields = [field for field in model._meta.concrete_fields if not field.primary_key or field.remote_field]
    try:
        with transaction.atomic():
            _checks_off(table)
            made = model(pk=1, **{field.attname: _value(field, empty) for field in fields})
            made.save_base(raw=True, force_insert=True)
            yield 1
            raise _RolledBack
    except _RolledBack:
        pass
    finally:
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA ignore_check_constraints = 0")


def _checks_off(table: str) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = 1")
            return
        cursor.execute(
            "SELECT conname FROM pg_constraint WHERE conrelid = %s::regclass AND contype = 'c'", [table]
        )
        for (name,) in cursor.fetchall():
            cursor.execute(f'ALTER TABLE "{table}" DROP CONSTRAINT "{name}"')


def columns_of(table: str) -> list[tuple[str, str]]:
    """List a table's columns, its key apart, each with another value in SQL than a made-up row has."""
    found = []
    for field in model_of(table)._meta.concrete_fields:
        if not field.primary_key:
            found.append((str(field.column), _other(field)))
    return found


def _other(field: models.Field) -> str:
    target = field.target_field if isinstance(field, models.ForeignKey) else field
    if isinstance(target, models.BooleanField):
        return "FALSE"
    if isinstance(target, models.IntegerField | models.DecimalField | models.FloatField):
        return "2"
    if isinstance(target, models.DateField | models.DateTimeField):
        return "'2027-01-01'"
    if isinstance(target, models.JSONField):
        return "'[1]'"
    if isinstance(target, models.UUIDField):
        return f"'{UUID(int=2)}'"
    return "'o'"
