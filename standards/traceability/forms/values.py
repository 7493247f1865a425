"""The lines of values of a certificate: one for each element in use, filled in by hand or from pasted lines."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict

from labsys.metrology.units import Unit, from_mm, to_mm
from labsys.pages.figures import plain
from standards.register.forms import FigureField
from standards.register.models import Element
from standards.register.operations import ValueData, ValueRefused
from standards.traceability.sheet import Line, decode

FIELDS_OF_REFUSALS = {"deviation": "deviation", "uncertainty": "expanded"}


class LinesForm(forms.Form):
    """Values as lines, pasted or in a file, to be read into the fields below."""

    lines = forms.CharField(
        label="Pasted lines",
        required=False,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="One element a line: label; deviation; unit; U; k. Tabs, semicolons or commas between.",
    )
    lines_file = forms.FileField(
        label="Or a CSV file",
        required=False,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )

    def text(self) -> str:
        """Give the lines that were sent; a file goes before what was pasted."""
        file = self.cleaned_data.get("lines_file")
        return decode(file.read()) if file else str(self.cleaned_data["lines"])


class ValueForm(forms.Form):
    """The value of one element; left empty, the certificate doesn't cover it."""

    deviation = FigureField(label="Deviation", required=False)
    expanded = FigureField(label="U", required=False)
    k = FigureField(label="k", required=False)
    degrees_of_freedom = forms.IntegerField(label="Degrees of freedom", required=False, min_value=1)

    def __init__(self, sent: Any = None, *, element: Element, initial: dict[str, str] | None = None) -> None:
        super().__init__(sent, prefix=f"e{element.pk}", initial=initial)
        self.element = element
        for name, field in self.fields.items():
            field.widget.attrs["aria-label"] = f"{field.label} of {element.label}"
            field.widget.attrs["class"] = "short"
            if name == "degrees_of_freedom":
                field.widget = forms.TextInput(attrs={**field.widget.attrs, "inputmode": "numeric"})

    def clean(self) -> dict[str, Any]:
        """Ask for what is missing in a line that was begun."""
        found = super().clean() or {}
        begun = any(found.get(name) is not None for name in self.fields)
        for name, what in (("deviation", "deviation"), ("expanded", "U")):
            if begun and found.get(name) is None and name not in self.errors:
                self.add_error(name, f"Enter the {what} too, or leave the whole line empty.")
        return found

    def value(self, unit: Unit, k: Decimal) -> ValueData | None:
        """Give the value in mm as the act takes it; None for an empty line."""
        given = self.cleaned_data
        if given.get("deviation") is None:
            return None
        return ValueData(
            element=self.element,
            deviation_mm=to_mm(given["deviation"], unit),
            U_mm=to_mm(given["expanded"], unit),
            k=given["k"] if given["k"] is not None else k,
            degrees_of_freedom=given["degrees_of_freedom"],
        )

    def blame(self, refusal: ValueRefused) -> None:
        """Put a refusal beside the number it is about."""
        self.add_error(FIELDS_OF_REFUSALS.get(refusal.field or "", "deviation"), str(refusal))


def value_forms(elements: Iterable[Element], sent: Any = None) -> list[ValueForm]:
    """Make the lines of a standard's elements."""
    return [ValueForm(sent, element=element) for element in elements]


def value_forms_filled(
    elements: Iterable[Element], sent: QueryDict, lines: Iterable[Line], unit: Unit
) -> list[ValueForm]:
    """Make the lines as they were typed, with what was read put into them in the unit that the page has chosen."""
    read = {line.element.pk: _as_typed(line, unit) for line in lines}
    forms_made = []
    for element in elements:
        typed = {name: sent.get(f"e{element.pk}-{name}", "") for name in ValueForm.base_fields}
        forms_made.append(ValueForm(initial={**typed, **read.get(element.pk, {})}, element=element))
    return forms_made


def _as_typed(line: Line, unit: Unit) -> dict[str, str]:
    sizes = {"deviation": from_mm(line.deviation_mm, unit), "expanded": from_mm(line.U_mm, unit), "k": line.k}
    return {name: plain(size) for name, size in sizes.items()}
