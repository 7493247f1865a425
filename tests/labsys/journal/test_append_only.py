"""What was observed, decided or signed can't be changed or deleted, by the database's own word, on both engines."""

from __future__ import annotations

import importlib

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction

from labsys.journal.rows import AppendOnly

pytestmark = pytest.mark.django_db

APPS = ("labsys", "standards", "instruments")

# Rows that are worked on by their nature; every other table is either append-only or listed here with the reason.
WORKED_ON = {
    "labsys_department": "plain facts, changes are journalled",
    "labsys_place": "plain facts, changes are journalled",
    "labsys_family": "plain facts, changes are journalled",
    "labsys_tag": "given once; PROTECT keeps it",
    "labsys_person": "accounts change; every record keeps the name at the time",
    "labsys_apitoken": "last use is written",
    "labsys_journalhead": "moves with every act",
    "labsys_jobrun": "progress",
    "labsys_notice": "goes through its states",
    "labsys_owedwork": "is claimed and done",
    "standards_standard": "plain facts, changes are journalled",
    "standards_element": "plain facts, changes are journalled",
    "standards_issuer": "plain facts, changes are journalled",
    "instruments_procedure": "its content stands in revisions",
    "instruments_gaugemodel": "plain facts, changes are journalled",
    "instruments_gauge": "plain facts, changes are journalled",
    "instruments_member": "is withdrawn once",
    "instruments_pairing": "is ended once",
    "instruments_gaugeimport": "is confirmed or discarded once",
    "instruments_hold": "is lifted once",
    "instruments_callin": "is answered once",
    "instruments_outsidecertificate": "is decided once",
    "instruments_gaugestanding": "derived, kept for reading",
    "instruments_session": "goes through its states",
    "instruments_run": "a heading; what is in it is append-only",
    "instruments_point": "a heading; what is in it is append-only",
    "instruments_numberseries": "counts",
}


def guarded() -> dict[str, AppendOnly]:
    """List the guards that the migrations set up, by table."""
    found: dict[str, AppendOnly] = {}
    for app in APPS:
        module = importlib.import_module(f"{app}.migrations.0009_append_only")
        for operation in module.Migration.operations:
            if isinstance(operation, AppendOnly):
                found[operation.table] = operation
    return found


def test_every_table_is_append_only_or_says_why_not() -> None:
    tables = {model._meta.db_table for app in APPS for model in apps.get_app_config(app).get_models()}
    links = {"instruments_result_points"}
    unsaid = tables - set(guarded()) - set(WORKED_ON) - links
    assert not unsaid, f"append-only, or a reason why not, is wanted for {sorted(unsaid)}"
    assert not set(guarded()) & set(WORKED_ON)


def _refuses(sql: str) -> bool:
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)
    except DatabaseError as refusal:
        return "append-only" in str(refusal)
    return False


@pytest.mark.parametrize("table", sorted(guarded()))
def test_the_database_has_both_guards_on(table: str) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [table])
        else:
            cursor.execute(
                "SELECT tgname FROM pg_trigger WHERE tgrelid = %s::regclass AND NOT tgisinternal", [table]
            )
        names = {row[0] for row in cursor.fetchall()}
    assert {f"{table}_no_update", f"{table}_no_delete"} <= names


def test_a_guarded_row_refuses_change_and_deletion() -> None:
    from datetime import UTC, datetime
    from decimal import Decimal

    from labsys.laboratory.models import Capacity

    at = datetime(2026, 1, 1, tzinfo=UTC)
    row = Capacity.objects.create(hours_per_week=Decimal(30), valid_from=at, recorded_at=at)
    assert _refuses(f"UPDATE labsys_capacity SET hours_per_week = 40 WHERE id = {row.pk}")
    assert _refuses(f"DELETE FROM labsys_capacity WHERE id = {row.pk}")
    assert Capacity.objects.get().hours_per_week == Decimal(30)
