"""Fields that turn what people type into the form in which a content is stored, and back.

Lives here: lines, lists of lengths, numbers in other units, where a field's value stands. May not live here: small
tables (rows.py), what a section asks (sections.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from labsys.errors import LabError
from labsys.metrology.angle_readings import enter_angle
from labsys.metrology.exact import plain
from labsys.metrology.units import Unit

_SPLIT = re.compile(r"[;\s]+")


class Lines(forms.CharField):
    """A list of texts, one on each line."""

    def __init__(self, *, rows: int = 4, **options: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": rows}), **options)
        self.help_text = options.get("help_text") or "One on each line."

    def shown(self, stored: Any) -> str:
        """Write the stored list for people."""
        return "\n".join(stored or ())

    def clean(self, value: Any) -> list[str]:
        """Read the lines that are not empty."""
        text = super().clean(value)
        return [line.strip() for line in text.splitlines() if line.strip()]


class Number(forms.CharField):
    """A decimal number kept as exact text; typed and shown ``times`` as large as it is stored.

    ``is_angle``: it may be typed with its mark, 15° or 2.5′, and is kept in arc seconds.
    """

    is_angle = False

    def __init__(self, *, times: Decimal | int = 1, **options: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs={"inputmode": "decimal", "size": 12}), **options)
        self.times = Decimal(times)

    def shown(self, stored: Any) -> str:
        """Write the stored number for people."""
        return "" if stored is None else f"{plain(Decimal(str(stored)) * self.times):f}"

    def clean(self, value: Any) -> str | None:
        """Read a number with point or comma; None for an empty one that may be."""
        text = super().clean(value)
        return _kept(text, self.times, is_angle=self.is_angle) if text else None


class Lengths(forms.CharField):
    """Several lengths in one line, with semicolons or blanks between them; shown ``times`` as large as stored."""

    is_angle = False

    def __init__(self, *, times: Decimal | int = 1, **options: Any) -> None:
        options.setdefault("help_text", "Semicolons between them, ascending: 41.3; 90; 150.")
        look = {"inputmode": "text", "class": "wide"}
        super().__init__(required=False, widget=forms.TextInput(attrs=look), **options)
        self.times = Decimal(times)

    def shown(self, stored: Any) -> str:
        """Write the stored list for people."""
        return "; ".join(f"{plain(Decimal(str(one)) * self.times):f}" for one in stored or ())

    def clean(self, value: Any) -> list[str]:
        """Read the lengths."""
        typed = _SPLIT.split(super().clean(value))
        return [_kept(one, self.times, is_angle=self.is_angle) for one in typed if one]


class Long(forms.CharField):
    """A text of several lines that stays one text."""

    def __init__(self, *, rows: int = 3, **options: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": rows}), **options)

    def clean(self, value: Any) -> str:
        """Read the text with its line ends made blanks."""
        return " ".join(super().clean(value).split())


class Boxes(forms.MultipleChoiceField):
    """Several of a few words, each a box to tick."""

    def __init__(self, *, choices: Any, **options: Any) -> None:
        super().__init__(choices=choices, widget=forms.CheckboxSelectMultiple, **options)


def shown(field: forms.Field, stored: Any) -> Any:
    """Write a stored value the way ``field`` shows it."""
    write = getattr(field, "shown", None)
    return stored if write is None else write(stored)


def at(stored: Any, name: str) -> Any:
    """Give the value at a path with ``__`` between its steps; None where there is none."""
    for step in name.split("__"):
        stored = stored.get(step) if isinstance(stored, Mapping) else None
    return stored


def put(target: dict[str, Any], name: str, value: Any) -> None:
    """Put a value at a path with ``__`` between its steps; what leads there is made where it is missing."""
    *steps, last = name.split("__")
    for step in steps:
        if target.get(step) is None:
            target[step] = {}
        target = target[step]
    target[last] = value


def initial_values(fields: Iterable[tuple[str, forms.Field]], stored: Any) -> dict[str, Any]:
    """Give what fields show of a stored value; what it doesn't say is left to the field's own start."""
    found = ((name, field, at(stored, name)) for name, field in fields)
    return {name: shown(field, value) for name, field, value in found if value is not None}


def _kept(text: str, times: Decimal, *, is_angle: bool) -> str:
    """Give a typed number as it is stored; an angle with its marks in arc seconds."""
    if not is_angle:
        return f"{plain(_decimal(text) / times):f}"
    try:
        return f"{enter_angle(text, unmarked=Unit.ARCSEC):f}"
    except LabError as fault:
        raise ValidationError(str(fault)) from fault


def _decimal(text: str) -> Decimal:
    typed = text.replace(",", ".").replace("−", "-")
    try:
        number = Decimal(typed)
    except InvalidOperation:
        number = Decimal("NaN")
    # A short text can stand for a million digits: 1e999999.
    if not number.is_finite() or len(typed) > 40 or abs(number.adjusted()) > 40:
        raise ValidationError(f"Expected a number such as 0.02, found “{text[:40]}”.")
    return number
