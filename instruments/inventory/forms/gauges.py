"""Forms for one gauge: registering, changing, its photo, its state, its way through the laboratory."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from instruments.inventory.forms.lookups import model_field, person_field, place_field
from instruments.inventory.models import CustodyEvent, Gauge, GaugeState
from instruments.inventory.operations import GaugeData
from instruments.inventory.operations.photos import Photo, read_photo
from instruments.inventory.operations.states import possible
from labsys.errors import LabError
from labsys.laboratory.models import Department, MeasuringFunction
from labsys.laboratory.queries import zone


def reason_field() -> forms.CharField:
    """Make the field for the reason that every change wants."""
    return forms.CharField(
        label="Reason",
        max_length=300,
        help_text="Why, in words that somebody understands who reads it in two years.",
    )


class GaugeForm(forms.Form):
    """What is written about a gauge."""

    tag = forms.CharField(
        label="Tag", max_length=40, help_text="As engraved; it stays with the gauge for life."
    )
    model = model_field(label="Model")
    serial = forms.CharField(label="Serial number", max_length=80, help_text="“none” where it has none.")
    department = forms.ModelChoiceField(
        Department.objects.all(), label="Department", empty_label="Choose one"
    )
    place = place_field(label="Place", help_text="Where it belongs.")
    custodian = person_field(label="Custodian", required=False)
    owner = forms.ChoiceField(label="Owner", choices=Gauge.Owner.choices, initial=Gauge.Owner.OWN)
    owner_name = forms.CharField(
        label="Owner's name",
        max_length=120,
        required=False,
        help_text="Where the gauge isn't the plant's own.",
    )
    functions = forms.MultipleChoiceField(
        label="Measuring functions",
        choices=MeasuringFunction.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Only what this gauge has. None ticked: all that its model has.",
    )
    calibration_needed = forms.BooleanField(label="Calibration needed", required=False, initial=True)
    no_calibration_reason = forms.CharField(
        label="Why no calibration is needed",
        max_length=300,
        required=False,
        help_text="The floor then reads “indication only, not for acceptance”.",
    )
    check_before_use = forms.BooleanField(
        label="Check before use",
        required=False,
        help_text="The gauge may be used only on days on which a check is recorded.",
    )
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def data_given(self, **more: Any) -> GaugeData:
        """Give what was filled in as the act takes it."""
        given = {name: self.cleaned_data[name] for name in GaugeForm.base_fields if name in self.cleaned_data}
        given["functions"] = tuple(given["functions"])
        return GaugeData(**{**given, **more})


class RegisterForm(GaugeForm):
    """A new gauge."""

    shares_tag = forms.BooleanField(
        label="The piece is a reference standard too",
        required=False,
        help_text="It then carries that standard's tag; both stay on record by themselves.",
    )

    def data_given(self, **more: Any) -> GaugeData:
        """Give what was filled in as the act takes it."""
        return super().data_given(shares_tag=self.cleaned_data["shares_tag"], **more)


class ChangeForm(GaugeForm):
    """A change of what is written about a gauge; its tag isn't among it."""

    tag = None  # type: ignore[assignment]
    reason = reason_field()

    @classmethod
    def of(cls, gauge: Gauge, sent: Any = None) -> ChangeForm:
        """Make the form filled in with what is written now."""
        alike = ("serial", "department", "owner", "owner_name", "functions", "note")
        more = ("calibration_needed", "no_calibration_reason", "check_before_use")
        initial = {name: getattr(gauge, name) for name in (*alike, *more)}
        initial["model"], initial["place"] = str(gauge.model), gauge.place.name
        initial["custodian"] = gauge.custodian.username if gauge.custodian else ""
        return cls(sent, initial=initial)


class PhotoForm(forms.Form):
    """A photo, judged by what it is."""

    photo = forms.FileField(
        label="Photo",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text="JPEG, PNG or WebP, at most 10 MB. It is drawn anew: place and time in the file are not kept.",
    )

    def clean_photo(self) -> Photo:
        """Read the picture and draw it anew."""
        sent: UploadedFile = self.cleaned_data["photo"]
        try:
            return read_photo(sent.read())
        except LabError as refusal:
            raise ValidationError(str(refusal)) from refusal


class ReasonForm(forms.Form):
    """A reason and nothing else."""

    reason = reason_field()


Kind = CustodyEvent.Kind
INSIDE = (Kind.CLEANED, Kind.SOAKING, Kind.ON_BENCH, Kind.WAITING)


class StateForm(forms.Form):
    """Another service state, of those that may follow the one the gauge is in."""

    state = forms.ChoiceField(label="New state", widget=forms.RadioSelect)
    reason = reason_field()

    def __init__(self, *args: Any, state_now: str, **more: Any) -> None:
        super().__init__(*args, **more)
        choices = [(state.value, GaugeState.State(state).label) for state in possible(state_now)]
        self.fields["state"].choices = choices  # type: ignore[attr-defined]


class CustodyForm(forms.Form):
    """A step inside the laboratory. Coming and going change what the floor may do and have pages of their own."""

    kind = forms.ChoiceField(label="What happened", choices=[(kind.value, kind.label) for kind in INSIDE])
    at = forms.DateTimeField(
        label="When",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="In the laboratory's time.",
    )
    place = place_field(label="Where", required=False)
    condition = forms.CharField(
        label="Condition",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What was seen.",
    )
    waits_for = forms.ChoiceField(label="Waits for", choices=CustodyEvent.WaitsFor.choices, required=False)

    def clean_at(self) -> datetime:
        """Read the time as the laboratory's, whatever the server's zone is."""
        given: datetime = self.cleaned_data["at"]
        return given.replace(tzinfo=zone())
