"""A small table as one field: a list of records, each a row of inputs, with a few empty rows to add more.

Lives here: the table, its columns, faults beside a cell. May not live here: which tables there are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from instruments.procedures.content.reader import MOST_ITEMS
from instruments.procedures.forms.fields import shown

SPARE = 3
"""Empty rows below those that are filled."""


@dataclass(frozen=True, slots=True)
class Column:
    """One value of every row: its name in the record, and its field, whose label heads the column."""

    name: str
    field: forms.Field
    is_wide: bool = False


class RowsTable(forms.Widget):
    """Rows of inputs named ``results-0-kind``; rows left empty are not there."""

    template_name = "instruments/procedures/rows.html"
    use_fieldset = True

    def __init__(self, columns: Sequence[Column], row_name: str) -> None:
        super().__init__()
        self.columns = columns
        self.row_name = row_name
        self.label = ""
        self.faults: set[tuple[int, str]] = set()

    def __deepcopy__(self, memo: Any) -> RowsTable:
        """Copy for another form, which has faults of its own."""
        copied: RowsTable = super().__deepcopy__(memo)
        copied.faults = set()
        return copied

    def id_for_label(self, id_: str) -> str:
        """Give none: every cell has a name of its own."""
        return ""

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        """Say that the table is not there where its first row isn't."""
        return all(f"{name}-0-{column.name}" not in data for column in self.columns)

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[dict[str, Any]]:
        """Collect the rows in which anything was typed."""
        rows = []
        for index in range(MOST_ITEMS):
            sent = {
                column.name: column.field.widget.value_from_datadict(
                    data, files, f"{name}-{index}-{column.name}"
                )
                for column in self.columns
            }
            if all(value is None for value in sent.values()):
                break
            if any(str(value or "").strip() for value in sent.values()):
                rows.append(sent)
        return rows

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        """Give the cells, each as the context of its own input."""
        context: dict[str, Any] = super().get_context(name, None, attrs)
        rows = [*(value or ()), *({} for _ in range(SPARE))]
        context["widget"] |= {
            "label": self.label,
            "heads": [column.field.label for column in self.columns],
            "rows": [self._row(name, index, row) for index, row in enumerate(rows)],
        }
        return context

    def _row(self, name: str, index: int, row: Mapping[str, Any]) -> list[dict[str, Any]]:
        return [self._cell(name, index, column, row.get(column.name)) for column in self.columns]

    def _cell(self, name: str, index: int, column: Column, value: Any) -> dict[str, Any]:
        attrs = {"aria-label": f"{column.field.label}, {self.row_name} {index + 1}"}
        if (index, column.name) in self.faults:
            attrs["aria-invalid"] = "true"
        cell = column.field.widget.get_context(f"{name}-{index}-{column.name}", value, attrs)
        return {**cell["widget"], "is_wide": column.is_wide}


class Rows(forms.Field):
    """A list of records. ``row_name`` is how one is called; ``missing`` is said where a needed table is empty."""

    widget: RowsTable

    def __init__(
        self, columns: Sequence[Column], *, row_name: str, missing: str = "", **options: Any
    ) -> None:
        said = {"required": missing} if missing else None
        super().__init__(widget=RowsTable(columns, row_name), error_messages=said, **options)
        self.widget.label = str(self.label)

    def shown(self, stored: Any) -> list[dict[str, Any]]:
        """Write the stored records for people, value by value."""
        columns = self.widget.columns
        return [
            {column.name: shown(column.field, row.get(column.name)) for column in columns}
            for row in stored or ()
        ]

    def clean(self, value: Any) -> list[dict[str, Any]]:
        """Read every row; a fault says which row and column it is about."""
        rows = super().clean(value) or []
        faults: list[str] = []
        cleaned = [self._cleaned(index, row, faults) for index, row in enumerate(rows)]
        if faults:
            raise ValidationError(faults)
        return cleaned

    def _cleaned(self, index: int, row: Mapping[str, Any], faults: list[str]) -> dict[str, Any]:
        found = {}
        for column in self.widget.columns:
            try:
                found[column.name] = column.field.clean(row[column.name])
            except ValidationError as fault:
                faults += [self.said(index, column.name, sentence) for sentence in fault.messages]
        return found

    def said(self, index: int, name: str, sentence: str) -> str:
        """Say a fault with its row and column, and mark the cell."""
        column = next((one for one in self.widget.columns if one.name == name), None)
        if column is None:
            return f"Row {index + 1}: {sentence}"
        self.widget.faults.add((index, name))
        return f"Row {index + 1}, {column.field.label}: {sentence}"
