"""Building stones for records that outlive their moment: dated rows, lengths, append-only tables.

A fact that a check depends on is a row with ``valid_from`` and ``recorded_at`` and no end: the last row with
valid_from <= t and recorded_at <= known_at wins, and a withdrawal is a row too. So every register can be asked what
was true on a day, and what was known of it then.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar, Self

from django.db import models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class DatedQuerySet(models.QuerySet[Any]):
    """Rows that can be asked what was in force at an instant, as known at another."""

    def as_of(self, at: datetime, known_at: datetime | None = None) -> Self:
        """Narrow to rows valid at ``at`` and recorded by ``known_at`` (``at`` itself unless given), newest first."""
        return self.filter(valid_from__lte=at, recorded_at__lte=known_at or at).order_by(
            "-valid_from", "-recorded_at", "-pk"
        )

    def in_force(self, at: datetime, known_at: datetime | None = None) -> Any | None:
        """Find the one row that wins at ``at``, or None."""
        return self.as_of(at, known_at).first()

    def each_in_force(self, *keys: str, at: datetime, known_at: datetime | None = None) -> Self:
        """Narrow to the rows that win at ``at``, one for each value of ``keys`` (a person and a family, say)."""
        key = {name: models.OuterRef(name) for name in keys}
        begins, written = models.OuterRef("valid_from"), models.OuterRef("recorded_at")
        alike = models.Q(valid_from=begins, recorded_at=written)
        beats = (
            models.Q(valid_from__gt=begins)
            | models.Q(valid_from=begins, recorded_at__gt=written)
            | models.Q(alike, pk__gt=models.OuterRef("pk"))
        )
        rivals = self.model._default_manager.filter(
            beats, valid_from__lte=at, recorded_at__lte=known_at or at, **key
        )
        return self.as_of(at, known_at).filter(~models.Exists(rivals))


class DatedRow(models.Model):
    """A fact from an instant on, never changed: a later row supersedes it."""

    valid_from = models.DateTimeField()
    recorded_at = models.DateTimeField()
    reason = models.TextField(blank=True)

    objects: ClassVar[Any] = DatedQuerySet.as_manager()

    class Meta:
        abstract = True


def length_field(**options: Any) -> Any:
    """Make a column for a length in millimetres, or for an angle in arc seconds where the quantity is angle.

    Exact to the ninth decimal up to 999 999, which is a picometre for a length: fifteen digits is what both engines
    keep exactly. The sixteenth lets a whole turn in, 1 296 000″; SQLite keeps eight decimals of what is that large,
    and angles have no more.
    """
    return models.DecimalField(max_digits=16, decimal_places=9, **options)


class AppendOnly(Operation):
    """Migration step: the database itself refuses to change or delete rows of a table.

    ``changeable`` names columns that may still be filled once the row stands (never re-filled: from NULL or empty
    only), for facts that come to the row later, such as the hash of a rendered file; ``free`` names columns that go
    through states. ``frozen_when`` is a condition
    in SQL on the row as it was (``OLD.approved_at IS NOT NULL``) from which on it holds, for rows that begin as a
    draft; until then the row may change. Deleting is refused always.
    """

    reversible = True

    def __init__(
        self,
        table: str,
        changeable: tuple[str, ...] = (),
        frozen_when: str = "",
        free: tuple[str, ...] = (),
    ) -> None:
        self.table = table
        self.changeable = changeable
        self.frozen_when = frozen_when
        self.free = free

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return type(self).__name__, [self.table, self.changeable, self.frozen_when, self.free], {}

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Nothing changes in the models."""

    def database_forwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: Any, to_state: Any
    ) -> None:
        connection = schema_editor.connection
        for statement in create_triggers(connection, self):
            schema_editor.execute(statement, params=None)

    def database_backwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: Any, to_state: Any
    ) -> None:
        for statement in drop_triggers(schema_editor.connection.vendor, self.table):
            schema_editor.execute(statement, params=None)

    def describe(self) -> str:
        return f"Make {self.table} append-only"


class GuardAnew(AppendOnly):
    """Migration step: set the guard of a table up again, after its columns changed.

    SQLite makes a table anew to change it, which drops its triggers; on PostgreSQL a guard knows the columns there
    were. So every later change of an append-only table is followed by this.
    """

    def database_forwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: Any, to_state: Any
    ) -> None:
        for statement in drop_triggers(schema_editor.connection.vendor, self.table):
            schema_editor.execute(statement, params=None)
        super().database_forwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        return f"Keep {self.table} append-only"


def create_triggers(connection: Any, guard: AppendOnly) -> list[str]:
    """List the statements that make a table append-only on this engine."""
    table = guard.table
    message = f"{table} is append-only"
    condition = _changed(connection, guard)
    if guard.frozen_when:
        condition = f"({guard.frozen_when}) AND ({condition})"
    if connection.vendor == "sqlite":
        return [
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} BEGIN SELECT RAISE(ABORT, '{message}'); END",
            f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} WHEN {condition}"
            f" BEGIN SELECT RAISE(ABORT, '{message}'); END",
        ]
    return [
        f"CREATE OR REPLACE FUNCTION {table}_refuse() RETURNS trigger LANGUAGE plpgsql AS"
        f" $$ BEGIN RAISE EXCEPTION '{message}' USING ERRCODE = 'restrict_violation'; END $$",
        f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION {table}_refuse()",
        f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} FOR EACH ROW WHEN ({condition})"
        f" EXECUTE FUNCTION {table}_refuse()",
    ]


def drop_triggers(vendor: str, table: str) -> list[str]:
    """List the statements that take the guards off again."""
    if vendor == "sqlite":
        return [f"DROP TRIGGER IF EXISTS {table}_no_{what}" for what in ("delete", "update")]
    return [
        *(f"DROP TRIGGER IF EXISTS {table}_no_{what} ON {table}" for what in ("delete", "update")),
        f"DROP FUNCTION IF EXISTS {table}_refuse()",
    ]


def _changed(connection: Any, guard: AppendOnly) -> str:
    """Say in SQL when an update touches more than an empty changeable column or a free one."""
    if not guard.changeable and not guard.free:
        return "TRUE" if connection.vendor != "sqlite" else "1"
    with connection.cursor() as cursor:
        columns = [row.name for row in connection.introspection.get_table_description(cursor, guard.table)]
    differs = "IS DISTINCT FROM" if connection.vendor != "sqlite" else "IS NOT"
    loose = {*guard.changeable, *guard.free}
    fixed = [f"OLD.{name} {differs} NEW.{name}" for name in columns if name not in loose]
    once = [
        f"(COALESCE(CAST(OLD.{name} AS TEXT), '') <> '' AND OLD.{name} {differs} NEW.{name})"
        for name in guard.changeable
    ]
    return " OR ".join(fixed + once)
