"""Where a session's page leads on to: what came of the session in topics that this one doesn't know.

A higher topic registers a source at start, as what waits is registered with the planning.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from instruments.measuring.models import Session


@dataclass(frozen=True)
class Lead:
    """One link onward: what it leads to, in words, and its address."""

    says: str
    url: str


Source = Callable[[Session], Lead | None]
_sources: dict[str, Source] = {}


def register_lead(name: str, source: Source) -> None:
    """Let a higher topic lead on from a session; the same name again replaces it. Called once, at start."""
    _sources[name] = source


def leads_of(session: Session) -> tuple[Lead, ...]:
    """Give where one can go on from a session."""
    found = (source(session) for source in _sources.values())
    return tuple(lead for lead in found if lead is not None)
