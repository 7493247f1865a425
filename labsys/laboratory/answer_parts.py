"""How an answer of the arithmetic is laid out on a page: single values as facts, lists of objects as tables.

Lives here: the layout of plain values. May not live here: what they mean.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Fact:
    """One named value as text."""

    name: str
    text: str


@dataclass(frozen=True)
class Grid:
    """A list of objects: their fields as headings, one row for each."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def facts(values: Mapping[str, Any], before: str = "") -> Iterator[Fact]:
    """Give what fits in a line each; an object inside gives its fields with its name before them."""
    for name, value in values.items():
        said = f"{before}{name}"
        if isinstance(value, Mapping):
            yield from facts(value, f"{said}.")
        elif not is_grid(value):
            yield Fact(said, text_of(value))


def grids(values: Mapping[str, Any], before: str = "") -> Iterator[Grid]:
    """Give the lists of objects as tables."""
    for name, value in values.items():
        said = f"{before}{name}"
        if isinstance(value, Mapping):
            yield from grids(value, f"{said}.")
        elif is_grid(value):
            yield _grid(said, value)


def is_grid(value: Any) -> bool:
    """Say whether a value is a list of objects, or of lists."""
    return isinstance(value, list) and bool(value) and all(isinstance(one, Mapping | list) for one in value)


def text_of(value: Any) -> str:
    """Write a value in a line: nothing as a dash, flags as words, a list joined."""
    if value is None or value in ([], {}):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(text_of(one) for one in value)
    if isinstance(value, Mapping):
        return "; ".join(f"{name} {text_of(one)}" for name, one in value.items())
    return str(value)


def _grid(name: str, rows: list[Any]) -> Grid:
    if not isinstance(rows[0], Mapping):
        width = max(len(row) for row in rows)
        return Grid(
            name, tuple(str(place) for place in range(width)), tuple(tuple(map(text_of, row)) for row in rows)
        )
    headings = tuple(dict.fromkeys(heading for row in rows for heading in row))
    return Grid(name, headings, tuple(tuple(text_of(row.get(one)) for one in headings) for row in rows))
