"""What the texts of subjects stand for: ``gauge:12`` is the gauge CAL-0412 and has a page.

Apps say at start what they know, so the journal needs to know none of them. Names are asked for in one question per
kind, however many entries are shown.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from django.urls import reverse

from labsys.errors import LabError

Names = Callable[[Collection[int]], Mapping[int, str]]
Find = Callable[[str], Collection[int]]

_SUBJECT = re.compile(r"(?P<kind>[a-z-]+):(?P<id>\d+)")


class KindTaken(LabError, ValueError):
    """Two apps explain the same kind of subject differently."""

    code = "kind-taken"
    sentence = "The kind of subject “{code}” is explained already as “{noun}”. Choose another word for it."


@dataclass(frozen=True)
class Kind:
    """A kind of subject: the word before the colon, what people call it, its page, its names, how it is found.

    ``noun`` stands before the name; empty where the name says it. ``url_name`` takes the id; empty: no page.
    ``find`` gives the ids that people mean by a text.
    """

    code: str
    noun: str
    url_name: str = ""
    names: Names | None = None
    find: Find | None = None


@dataclass(frozen=True)
class Shown:
    """A subject as people read it, and the address of its page (empty where it has none)."""

    text: str
    url: str = ""


_kinds: dict[str, Kind] = {}


def register(kind: Kind) -> None:
    """Explain a kind of subject; called from an app's ``ready``. Raises KindTaken."""
    known = _kinds.get(kind.code)
    if known is not None and (known.noun, known.url_name) != (kind.noun, kind.url_name):
        raise KindTaken(code=kind.code, noun=known.noun)
    _kinds[kind.code] = kind


def shown(subjects: Iterable[str]) -> dict[str, Shown]:
    """Give each subject as people read it; one nobody explains stays as it is."""
    wanted: dict[str, set[int]] = defaultdict(set)
    texts = set(subjects)
    for text in texts:
        kind, number = parted(text)
        if kind is not None:
            wanted[kind.code].add(number)
    names = {code: _names(_kinds[code], ids) for code, ids in wanted.items()}
    return {text: _shown(text, names) for text in texts}


def found_by(text: str) -> list[str]:
    """Give the subjects that somebody may mean by ``text``: a subject itself, a tag, a name, a number."""
    if _SUBJECT.fullmatch(text):
        return [text]
    finders = [kind for kind in _kinds.values() if kind.find is not None]
    return [f"{kind.code}:{number}" for kind in finders if kind.find for number in kind.find(text)]


def parted(text: str) -> tuple[Kind | None, int]:
    """Part a subject into its kind and number; None where nobody explains it."""
    match = _SUBJECT.fullmatch(text)
    kind = _kinds.get(match["kind"]) if match else None
    return (kind, int(match["id"])) if match and kind else (None, 0)


def _names(kind: Kind, ids: Collection[int]) -> Mapping[int, str]:
    return kind.names(ids) if kind.names is not None else {}


def _shown(text: str, names: Mapping[str, Mapping[int, str]]) -> Shown:
    kind, number = parted(text)
    if kind is None:
        return Shown(text)
    name = names[kind.code].get(number, str(number))
    return Shown(
        f"{kind.noun} {name}".strip(), reverse(kind.url_name, args=[number]) if kind.url_name else ""
    )
