"""The choice of a drawing by its picture.

May not live here: the pictures themselves (``labsys.pages.sketches``).
"""

from __future__ import annotations

from typing import Any

from django import forms

from instruments.procedures.content.series import SKETCHES

DRAWINGS: tuple[tuple[str, str], ...] = (
    ("", "none"),
    *((name, name.replace("-", " ")) for name in SKETCHES),
)


class DrawingRadios(forms.RadioSelect):
    """One picture beside each button to choose it."""

    template_name = "instruments/procedures/drawings.html"


class Drawing(forms.ChoiceField):
    """The name of a drawing, or none."""

    def __init__(self, **options: Any) -> None:
        super().__init__(choices=DRAWINGS, widget=DrawingRadios, required=False, initial="", **options)
