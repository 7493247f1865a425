"""Forms for what is decided about one gauge: holds, restrictions, interval, extension, certificates from outside."""

from __future__ import annotations

from typing import Any

from django import forms

from instruments.inventory.forms.gauges import ReasonForm, reason_field
from instruments.recall.models import Hold, VerdictWord
from instruments.recall.operations import OutsideData, RestrictionData
from labsys.laboratory.models import MeasuringFunction


def day_field(label: str, **more: Any) -> forms.DateField:
    """Make a field for a day."""
    return forms.DateField(
        label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **more
    )


class HoldForm(forms.Form):
    """A new hold."""

    kind = forms.ChoiceField(label="Why", choices=Hold.Kind.choices, widget=forms.RadioSelect)
    reason = reason_field()


class RestrictionForm(forms.Form):
    """What a gauge may still be used for."""

    functions = forms.MultipleChoiceField(
        label="Only these functions", widget=forms.CheckboxSelectMultiple, required=False
    )
    text = forms.CharField(
        label="What the floor reads",
        max_length=300,
        help_text="One short sentence: what it may be used for. “Outside only, to 100 mm.”",
    )
    owner_consent = forms.CharField(
        label="Who consented for the owner", max_length=200, required=False, help_text="By role, and when."
    )
    reason = reason_field()

    def __init__(self, *args: Any, functions: list[str], **more: Any) -> None:
        super().__init__(*args, **more)
        labels = dict(MeasuringFunction.choices)
        self.fields["functions"].choices = [(name, labels.get(name, name)) for name in functions]  # type: ignore[attr-defined]

    def data_given(self) -> RestrictionData:
        """Give what was filled in as the act takes it."""
        given = self.cleaned_data
        return RestrictionData(given["text"], tuple(given["functions"]), given["owner_consent"])


class IntervalForm(forms.Form):
    """A recall interval."""

    months = forms.IntegerField(
        label="Months", min_value=1, max_value=120, help_text="At most twice the interval in force."
    )
    reason = reason_field()


class ExtensionForm(forms.Form):
    """A later due day."""

    to_on = day_field("New due day", help_text="Valid through the end of that day.")
    reason = forms.CharField(
        label="Reason and risk",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Why it can't come, what it is used for, and how far from its limits it was last time.",
    )


class OutsideForm(forms.Form):
    """A certificate of another laboratory."""

    issuer = forms.CharField(label="Issued by", max_length=120)
    number = forms.CharField(label="Certificate number", max_length=80)
    accreditation = forms.CharField(
        label="Accreditation",
        max_length=120,
        required=False,
        help_text="As stated on it; empty where none is.",
    )
    calibrated_on = day_field("Day the measurements ended", help_text="Not the day it was issued.")
    as_found = forms.ChoiceField(
        label="As found", choices=[("", "not stated"), *VerdictWord.choices], required=False
    )
    as_found_within_limits = forms.NullBooleanField(
        label="As found within the plain limits",
        widget=forms.Select(
            choices=[("unknown", "not stated"), ("true", "yes"), ("false", "no, beyond them")]
        ),
        help_text="By the errors alone, whatever the rule. “No” puts the gauge on hold.",
    )
    verdict = forms.ChoiceField(label="As left", choices=VerdictWord.choices)
    adjusted = forms.BooleanField(label="It was adjusted", required=False)
    file = forms.FileField(
        label="The certificate",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/png,image/jpeg"}),
        help_text="PDF, PNG or JPEG, at most 20 MB. Choose it again if the page comes back to be mended.",
    )

    def data_given(self) -> OutsideData:
        """Give what was filled in as the act takes it."""
        return OutsideData(**{name: value for name, value in self.cleaned_data.items() if name != "file"})


class OutsideDecisionForm(forms.Form):
    """Accept or reject a certificate."""

    decision = forms.ChoiceField(
        label="Decision",
        choices=[
            ("accept", "accept: it counts as the gauge's calibration"),
            ("reject", "reject: it never counts"),
        ],
        widget=forms.RadioSelect,
    )
    reason = reason_field()


__all__ = [
    "ExtensionForm",
    "HoldForm",
    "IntervalForm",
    "OutsideDecisionForm",
    "OutsideForm",
    "ReasonForm",
    "RestrictionForm",
    "day_field",
]
