"""Two revisions side by side: what each says of the same thing, and which words changed.

Lives here: matching entries by their keys, and words within them. May not live here: which revisions to compare.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from instruments.procedures.document.parts import Entry, Part

_WORDS = re.compile(r"\s+|[^\s]+")


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of text, and whether it stands on this side only."""

    text: str
    is_changed: bool


@dataclass(frozen=True, slots=True)
class Changed:
    """One entry on both sides; a side is empty where the thing isn't there. ``word``: same, changed, added, removed."""

    label: str
    before: tuple[Piece, ...]
    after: tuple[Piece, ...]
    word: str


@dataclass(frozen=True, slots=True)
class PartDifference:
    """A part of the document with all its entries side by side."""

    title: str
    entries: tuple[Changed, ...]

    @property
    def changes(self) -> tuple[Changed, ...]:
        """Give those that differ."""
        return tuple(entry for entry in self.entries if entry.word != "same")


def differences(before: Sequence[Part], after: Sequence[Part]) -> tuple[PartDifference, ...]:
    """Lay two documents side by side, part by part; entries are matched by what they are about, not by their place."""
    earlier = {part.slug: part for part in before}
    found = []
    for part in after:
        old = earlier.get(part.slug)
        found.append(PartDifference(part.title, _entries(old.entries if old else (), part.entries)))
    kept = {part.slug for part in after}
    dropped = (
        PartDifference(part.title, _entries(part.entries, ())) for part in before if part.slug not in kept
    )
    return (*found, *dropped)


def _entries(before: Sequence[Entry], after: Sequence[Entry]) -> tuple[Changed, ...]:
    """Keep the order of the later revision; what it dropped follows at the end."""
    earlier = {entry.key: entry for entry in before}
    later = {entry.key for entry in after}
    kept = [_changed(earlier.get(entry.key), entry) for entry in after]
    return (*kept, *(_changed(entry, None) for entry in before if entry.key not in later))


def _changed(before: Entry | None, after: Entry | None) -> Changed:
    if after is None and before is not None:
        return Changed(before.label, (Piece(before.text, True),), (), "removed")
    assert after is not None  # one of the two is there
    if before is None:
        return Changed(after.label, (), (Piece(after.text, True),), "added")
    if before.text == after.text:
        same = (Piece(after.text, False),)
        return Changed(after.label, same, same, "same")
    return Changed(after.label, *_words(before.text, after.text), "changed")


def _words(before: str, after: str) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    """Mark the words that differ, on either side."""
    old, new = _WORDS.findall(before), _WORDS.findall(after)
    left: list[Piece] = []
    right: list[Piece] = []
    for kind, i, j, k, n in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        differs = kind != "equal"
        if i < j:
            left.append(Piece("".join(old[i:j]), differs))
        if k < n:
            right.append(Piece("".join(new[k:n]), differs))
    return _joined(left), _joined(right)


def _joined(pieces: list[Piece]) -> tuple[Piece, ...]:
    """Join changed words over the blanks between them, so that a changed sentence is marked as one."""
    joined: list[Piece] = []
    for piece in pieces:
        blank = len(joined) > 1 and joined[-2].is_changed and not joined[-1].text.strip(" ")
        if piece.is_changed and blank:
            gap = joined.pop()
            joined[-1] = Piece(joined[-1].text + gap.text + piece.text, True)
        else:
            joined.append(piece)
    return tuple(joined)
