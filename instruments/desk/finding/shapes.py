"""What a search answers with."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Way:
    """Something that can be done with what was found."""

    says: str
    url: str


@dataclass(frozen=True)
class Found:
    """One thing found: its name, what it is, where its page is, where one goes on from there."""

    name: str
    says: str
    url: str
    ways: tuple[Way, ...] = ()


@dataclass(frozen=True)
class Group:
    """What was found of one kind; ``is_cut`` when there is more than is shown."""

    title: str
    items: tuple[Found, ...]
    is_cut: bool
