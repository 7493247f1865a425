"""Where higher topics put what they know of a standard onto its page and into the list, without being known here.

A panel is registered at start; asked with a standard and an instant it answers with a template and its context, or None
where it has nothing to say. A list column answers for a whole page of standards at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from labsys.accounts.models import Person
from standards.register.models import Standard


@dataclass(frozen=True)
class Asked:
    """What a panel is asked for: which standard, as of when, shown to whom."""

    standard: Standard
    at: datetime
    person: Person


@dataclass(frozen=True)
class Panel:
    """A block of the standard's page: its heading, and the template that shows it with the given context."""

    slug: str
    title: str
    template: str
    context: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class ListColumn:
    """A column of the list of standards; ``texts`` gives the cells by the standard's id."""

    key: str
    title: str
    texts: Callable[[list[int], datetime], Mapping[int, str]]


Provider = Callable[[Asked], Panel | None]

_panels: dict[str, tuple[int, Provider]] = {}
_columns: dict[str, ListColumn] = {}


def register(*, slug: str, provider: Provider, order: int = 100) -> None:
    """Add a panel to the page of a standard; the same slug again replaces it. Lower ``order`` stands higher."""
    _panels[slug] = (order, provider)


def register_column(column: ListColumn) -> None:
    """Add a column to the list of standards; the same key again replaces it."""
    _columns[column.key] = column


def panels_of(asked: Asked) -> list[Panel]:
    """Ask every panel, in order, and give those that have something to say."""
    providers = sorted(_panels.items(), key=lambda item: (item[1][0], item[0]))
    answers = (provider(asked) for _slug, (_order, provider) in providers)
    return [panel for panel in answers if panel is not None]


def columns() -> list[ListColumn]:
    """Give the columns that were added to the list."""
    return list(_columns.values())
