"""Putting a refusal beside the field it is about, where the form has that field."""

from __future__ import annotations

import re

from django.forms import BaseForm

from instruments.procedures.content import ContentFault
from instruments.procedures.forms.rows import Rows
from labsys.errors import LabError
from labsys.pages.refusals import attach

_INDEX = re.compile(r"\[\d+\]")


def attach_refusal(form: BaseForm, refusal: LabError, *, within: str = "") -> None:
    """Put the sentence beside the field of the place it names, otherwise on top.

    ``within`` is the place of the item the form is about, such as ``looks[2]``.
    """
    if not isinstance(refusal, ContentFault):
        attach(form, refusal)
        return
    place = str(refusal.data["place"])
    own = place.removeprefix(f"{within}.") if within else place
    found = _field_of(form, own) if not within or own != place else None
    if found is None:
        form.add_error(None, str(refusal))
        return
    name, index, column = found
    sentence = f"Expected {refusal.data['expected']}, found {refusal.data['found']}."
    field = form.fields[name]
    form.add_error(
        name, field.said(index, column, sentence) if isinstance(field, Rows) and index >= 0 else sentence
    )


def _field_of(form: BaseForm, place: str) -> tuple[str, int, str] | None:
    """Find the field of a place: itself, or the table it stands in with its row (-1: none) and column."""
    steps = place.split(".")
    names = [_INDEX.sub("", step) for step in steps]
    whole = "__".join(names)
    for count in range(len(steps), 0, -1):
        name = "__".join(names[:count])
        row = _INDEX.search(steps[count - 1])
        if isinstance(form.fields.get(name), Rows) and row is not None:
            return name, int(row[0][1:-1]), ".".join(names[count : count + 1])
    return (whole, -1, "") if whole in form.fields else None
