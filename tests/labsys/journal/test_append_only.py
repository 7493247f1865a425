"""What was observed, decided or signed can't be changed or deleted, by the database's own word, on both engines."""

from __future__ import annotations

import importlib
import pkgutil

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction

from labsys.journal.rows import AppendOnly
from tests.labsys.journal import made_up

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
    "instruments_reminderday": "a mark that the day was planned; what was told stands in reminders",
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
        package = importlib.import_module(f"{app}.migrations")
        for name in sorted(module.name for module in pkgutil.iter_modules(package.__path__)):
            migration = importlib.import_module(f"{app}.migrations.{name}").Migration
            for operation in migration.operations:
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


@pytest.mark.parametrize("table", sorted(guarded()))
def test_a_row_refuses_to_be_changed_or_deleted(table: str) -> None:
    """Every column by itself, but those that the guard leaves open; a draft's row once it is signed."""
    guard = guarded()[table]
    closed = [(name, other) for name, other in made_up.columns_of(table) if name not in guard.free]
    assert closed
    with made_up.row(table) as pk:
        key = made_up.model_of(table)._meta.pk.column
        for name, other in closed:
            assert _refuses(f'UPDATE "{table}" SET "{name}" = {other} WHERE "{key}" = {pk}'), name
        assert _refuses(f'DELETE FROM "{table}" WHERE "{key}" = {pk}')


@pytest.mark.parametrize("table", sorted(name for name, guard in guarded().items() if guard.changeable))
def test_what_comes_later_is_filled_once(table: str) -> None:
    guard = guarded()[table]
    with made_up.row(table, empty=guard.changeable) as pk:
        key = made_up.model_of(table)._meta.pk.column
        for name, other in made_up.columns_of(table):
            if name in guard.changeable:
                assert not _refuses(f'UPDATE "{table}" SET "{name}" = {other} WHERE "{key}" = {pk}'), name
                assert _refuses(f'UPDATE "{table}" SET "{name}" = NULL WHERE "{key}" = {pk}'), name


def test_a_draft_may_change_until_it_is_signed_and_is_never_deleted() -> None:
    table = "instruments_revision"
    with made_up.row(table, empty=("approved_at", "retired_at")) as pk:
        assert not _refuses(f"UPDATE {table} SET content = 'other' WHERE id = {pk}")
        assert _refuses(f"DELETE FROM {table} WHERE id = {pk}")
        assert not _refuses(f"UPDATE {table} SET approved_at = '2026-03-02' WHERE id = {pk}")
        assert _refuses(f"UPDATE {table} SET content = 'a third' WHERE id = {pk}")


def test_without_its_guard_a_row_would_change() -> None:
    """The trial itself is no lie: the same statement goes through where no guard stands."""
    with made_up.row("labsys_tag") as pk:
        assert not _refuses(f"UPDATE labsys_tag SET text = 'other' WHERE id = {pk}")
