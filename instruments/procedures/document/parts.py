"""A procedure as a document for people: parts with entries, each of which keeps its name from revision to revision.

Lives here: the shape alone. May not live here: what a procedure says (building.py).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from labsys.metrology.units import Quantity
from labsys.pages import figures

# What grows with the length, or with a kelvin, is written and typed in millionths: µm/m, 10⁻⁶/K.
MILLION = Decimal(1_000_000)


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing a procedure says: a label, its lines, quiet notes, a caution.

    ``key`` is the same in every revision that speaks of the same thing, so that two revisions can be laid side by
    side. ``index`` is its place in a list that can be changed item by item. ``within`` are entries that make this one
    up; ``items`` names the list they are items of. ``drawing``: the sketch shown with it, drawn for ``drawn_for``.
    """

    key: str
    label: str
    lines: tuple[str, ...]
    notes: tuple[str, ...] = ()
    caution: str = ""
    flag: str = ""
    index: int | None = None
    within: tuple[Entry, ...] = ()
    items: str = ""
    drawing: str = ""
    drawn_for: str = ""

    @property
    def anchor(self) -> str:
        """Give the name of its place on a page."""
        return self.key.replace("/", "-")

    @property
    def text(self) -> str:
        """Give all of it as one text, for comparing."""
        flag = (f"[{self.flag}]",) if self.flag else ()
        caution = (f"Caution: {self.caution}",) if self.caution else ()
        drawing = (f"Drawing: {self.drawing.replace('-', ' ')}.",) if self.drawing else ()
        inner = (f"{one.label}: {one.text}" for one in self.within)
        return "\n".join((*self.lines, *inner, *self.notes, *caution, *drawing, *flag))


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the document; ``items`` names the list its entries are items of, empty where it is one form.

    ``empty`` says what it means that there are no entries.
    """

    slug: str
    title: str
    entries: tuple[Entry, ...]
    items: str = ""
    empty: str = ""


def number(value: Decimal | float, unit: str = "") -> str:
    """Write a number without an exponent, with its unit."""
    text = figures.plain(Decimal(repr(value)) if isinstance(value, float) else value)
    return f"{text}·{unit}" if unit.startswith("10") else figures.with_unit(text, unit)


def measure(value: Decimal, quantity: Quantity) -> str:
    """Write a length in millimetres; an angle in the largest unit that it is whole in: 15°, 5′, 150″."""
    return number(value, "mm") if quantity is Quantity.LENGTH else figures.marked(value)


def listed(values: Iterable[str]) -> str:
    """Join a few words with commas, or say none."""
    return ", ".join(values) or "none"
