"""Putting a refusal beside the field it is about, where the form has that field."""

from __future__ import annotations

import re

from django.forms import BaseForm

from instruments.procedures.content import ContentFault
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
    field = _INDEX.sub("", own).replace(".", "__")
    if field in form.fields and (not within or own != place):
        expected, found = refusal.data["expected"], refusal.data["found"]
        form.add_error(field, f"Expected {expected}, found {found}.")
    else:
        form.add_error(None, str(refusal))
