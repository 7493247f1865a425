"""Forms for gauges that come and go: call-ins, receipt, return, and what the floor records."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from instruments.inventory.forms.files import HELP, FilesField
from instruments.inventory.forms.lookups import place_field
from instruments.recall.forms.decisions import day_field
from labsys.laboratory.queries import zone


class CallInForm(forms.Form):
    """Until when gauges are to be brought, and what to say with it."""

    bring_by = day_field("Bring by")
    note = forms.CharField(
        label="What to say with it",
        max_length=300,
        required=False,
        help_text="“With case and setting master.”",
    )


class ReceiveForm(forms.Form):
    """A gauge that came in."""

    condition = forms.CharField(
        label="Condition",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="As it came, before it is cleaned.",
    )
    damaged = forms.BooleanField(
        label="It is damaged", required=False, help_text="It is then on hold at once. Set it aside first."
    )
    photos = FilesField(label="Photos", required=False, help_text=f"Of damage, before it is cleaned. {HELP}")
    place = place_field(label="Put where", required=False)
    at = forms.DateTimeField(
        label="When it came",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="In the laboratory's time.",
    )

    def clean_at(self) -> datetime:
        """Read the time as the laboratory's, whatever the server's zone is."""
        given: datetime = self.cleaned_data["at"]
        return given.replace(tzinfo=zone())


class ReleaseForm(forms.Form):
    """A gauge that goes back."""

    handed_to_note = forms.CharField(
        label="Handed to", max_length=200, help_text="By role, or the place it was put."
    )


class UseCheckForm(forms.Form):
    """Today's check before use."""

    good = forms.ChoiceField(
        label="The check was",
        choices=[("yes", "good"), ("no", "not good: it is on hold at once")],
        widget=forms.RadioSelect,
    )
    note = forms.CharField(label="What was seen", max_length=200, required=False)

    def data_given(self) -> dict[str, Any]:
        """Give what was filled in as the act takes it."""
        return {"good": self.cleaned_data["good"] == "yes", "note": self.cleaned_data["note"]}


class DamageForm(forms.Form):
    """A report of damage."""

    what = forms.CharField(
        label="What happened",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Dropped, bent, jumps, wet … The laboratory looks into it; the gauge is on hold at once.",
    )


class HandOverForm(forms.Form):
    """A gauge that goes to somebody else on the floor."""

    to = forms.CharField(label="To whom", max_length=120, help_text="By role.")
    place = place_field(label="Where it is now", required=False)
