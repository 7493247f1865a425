"""Forms for the members of a set and the setting master of a gauge."""

from __future__ import annotations

from django import forms

from instruments.inventory.forms.lookups import gauge_field
from instruments.inventory.forms.models import LengthField


class MemberForm(forms.Form):
    """A piece of a set."""

    label = forms.CharField(label="Label", max_length=40, help_text="As marked on the piece.")
    nominal_mm = LengthField(label="Nominal (mm)", required=False)


class PairForm(forms.Form):
    """The setting master that belongs to a gauge."""

    master = gauge_field(label="Setting master", help_text="Its own tag: type or scan it.")
