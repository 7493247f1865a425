"""Forms for bench hours and for what the laboratory calls itself."""

from __future__ import annotations

from django import forms

from labsys.laboratory.forms.fields import day_field, reason_field


class CapacityForm(forms.Form):
    """Bench hours from a day on."""

    hours_per_week = forms.DecimalField(
        label="Bench hours a week", min_value=0, max_value=9999, max_digits=5, decimal_places=1,
        help_text="Of all benches together. For a week off, 0 from its Monday and the usual hours from the next.",
    )  # fmt: skip
    valid_from = day_field(label="From")
    reason = reason_field(required=False)


class DetailsForm(forms.Form):
    """What stands on documents, and who signs."""

    name = forms.CharField(label="Name", max_length=120, help_text="As on every certificate from now on.")
    address = forms.CharField(label="Address", widget=forms.Textarea(attrs={"rows": 3}))
    contact = forms.CharField(label="Contact", max_length=200)
    second_signature = forms.BooleanField(
        label="A second person signs every certificate",
        required=False,
        help_text="Off: the person who measured may sign alone. That is a decision; give its reason. "
        "Every certificate then says so.",
    )
    reason = reason_field(required=False)
