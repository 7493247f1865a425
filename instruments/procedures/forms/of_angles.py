"""The forms of a procedure of angles: the same fields, which take angles with their marks and name arc seconds.

Lives here: ``turn``. May not live here: what the fields ask (sections.py, items.py, series.py).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from instruments.procedures.document.parts import measure
from instruments.procedures.forms.fields import Lengths, Number
from instruments.procedures.forms.rows import Rows
from labsys.metrology.units import Quantity

_INCHES = ("inch", "inch_parts", "within_in")
_MM = re.compile(r"(?:of gauges )?(?:in millimetres )?\(mm\b|, mm$")


def turn(form: forms.Form, content: Mapping[str, Any]) -> None:
    """Make a form ask for angles, where its content is of angles: what is in mm takes 15°, 5′ or a number of ″."""
    if content.get("quantity") != Quantity.ANGLE:
        return
    for name, field in list(form.fields.items()):
        if name.rpartition("__")[2] in _INCHES:
            del form.fields[name]
            continue
        _turn(field)
        if name in form.initial and getattr(field, "is_angle", False):
            form.initial[name] = _marked(form.initial[name])


def _turn(field: forms.Field) -> None:
    if isinstance(field, Rows):
        # The columns are shared by every form of this kind: these are of their own.
        kept = [one for one in field.widget.columns if one.name not in _INCHES]
        field.widget.columns = [replace(one, field=deepcopy(one.field)) for one in kept]
        for column in field.widget.columns:
            _turn(column.field)
    said = str(field.label)
    if isinstance(field, Number | Lengths) and _MM.search(said):
        field.is_angle = True
        field.label = _MM.sub(
            lambda found: ", ″" if found[0].startswith(",") else "(″, or with ° ′", said
        ).replace("Lengths", "Angles")
        if isinstance(field, Lengths):
            field.help_text = "Semicolons between them, ascending: 15°; 30°; 45°."


def _marked(text: Any) -> Any:
    """Write stored arc seconds with their marks; what was typed stays."""
    try:
        parts = [measure(Decimal(one), Quantity.ANGLE) for one in str(text).split("; ") if one]
    except InvalidOperation:
        return text
    return "; ".join(parts)
