"""Forms of the bench for what is no reading: photos, the time in the room, the trial of a cable."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms

from instruments.inventory.forms.files import HELP, FilesField
from labsys.laboratory.queries import zone

WHOLE = "the gauge as a whole"


class PhotosForm(forms.Form):
    """Photos of a look, or of the gauge as a whole."""

    look = forms.ChoiceField(label="What they show", choices=(), required=False)
    photos = FilesField(
        label="Photos",
        allow_empty_file=True,
        help_text=HELP,
        error_messages={"required": "Choose at least one photo."},
    )
    note = forms.CharField(label="Remark", max_length=200, required=False)

    def __init__(self, *args: Any, looks: Sequence[tuple[str, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["look"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", WHOLE), *looks]


class LaidForm(forms.Form):
    """Since when the gauge lies beside the standards."""

    since = forms.DateTimeField(
        label="Beside the standards since",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="In the laboratory's time.",
    )

    def clean_since(self) -> datetime:
        """Read the time as the laboratory's, whatever the server's zone is."""
        given: datetime = self.cleaned_data["since"]
        return given.replace(tzinfo=zone())


class EarlyForm(forms.Form):
    """Why work goes on before the gauge has the room's temperature."""

    reason = forms.CharField(
        label="Why it is not waited for",
        max_length=200,
        help_text="The reviewer reads it, and accepts it or doesn't.",
    )


class CableForm(forms.Form):
    """What a cable sent; how it ended and how fast it came, where a script has seen it."""

    sent = forms.CharField(
        label="What the cable sends",
        required=False,
        max_length=300,
        strip=False,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false", "data-focus": True}
        ),
    )
    ended = forms.CharField(required=False, max_length=10, widget=forms.HiddenInput)
    stroke_ms = forms.FloatField(required=False, min_value=0, widget=forms.HiddenInput)
    device = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)
