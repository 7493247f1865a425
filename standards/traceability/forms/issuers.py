"""Forms of issuers and the lines of their scopes."""

from __future__ import annotations

from typing import Any

from django import forms

from labsys.laboratory.queries import start_of_day
from standards.register.forms import AngleField, FigureField, day_field, reason_field
from standards.traceability.models import Issuer
from standards.traceability.operations import AccreditationData
from standards.traceability.quantities import CHOICES, OF_ANGLES, base_of


class IssuerForm(forms.Form):
    """Who issues certificates."""

    name = forms.CharField(label="Name", max_length=120)
    kind = forms.ChoiceField(label="Kind", choices=Issuer.Kind.choices)
    country = forms.CharField(label="Country", max_length=60, required=False)


class ScopeForm(forms.Form):
    """A line of a scope, as the accreditation body or the arrangement publishes it."""

    body = forms.CharField(
        label="Body",
        max_length=120,
        help_text="The accreditation body, or the arrangement that lists the service.",
    )
    number = forms.CharField(label="Number", max_length=60)
    quantity = forms.ChoiceField(label="Service", choices=CHOICES)
    range_low_mm = FigureField(label="Range from, mm (angles: ″, or 15°)")
    range_high_mm = FigureField(label="Range to, mm (angles: ″, or 90°)")
    cmc_constant_mm = FigureField(
        label="Smallest U (k = 2), constant part in mm (angles: ″)",
        min_value=0,
        help_text="0.00005 is 0.05 µm.",
    )
    cmc_per_length = FigureField(
        label="Smallest U, share of length",
        max_digits=12,
        min_value=0,
        initial="0",
        help_text="0.0000005 is 0.5 µm per metre.",
    )
    valid_from = day_field("Valid from", help_text="The day from which the issuer was recognised for this.")
    lapses_on = day_field("Lapses on", required=False, help_text="The last day, where the body names one.")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        service = self.data.get("quantity")
        if service in OF_ANGLES:
            for name in ("range_low_mm", "range_high_mm"):
                self.fields[name] = AngleField(label=self.fields[name].label, unmarked=base_of(service))

    def data_given(self) -> AccreditationData:
        """Give what was filled in as the act takes it."""
        given = {**self.cleaned_data, "valid_from": start_of_day(self.cleaned_data["valid_from"])}
        return AccreditationData(**given)


class WithdrawForm(forms.Form):
    """From when on a line of a scope no longer holds."""

    valid_from = day_field("No longer valid from", help_text="The first day on which it didn't hold.")
    reason = reason_field()
