"""Forms for departments, places and families: each once for adding, once with a reason for correcting."""

from __future__ import annotations

from django import forms

from labsys.laboratory.forms.fields import reason_field
from labsys.laboratory.models import Department
from labsys.metrology.units import Quantity


class DepartmentForm(forms.Form):
    """A department."""

    code = forms.CharField(label="Code", max_length=12, help_text="Short, such as SH.")
    name = forms.CharField(label="Name", max_length=80)
    contact = forms.CharField(
        label="Contact",
        max_length=120,
        required=False,
        help_text="Whom to ask, by role: “shift lead, shafts”.",
    )


class PlaceForm(forms.Form):
    """A place."""

    name = forms.CharField(label="Name", max_length=80)
    department = forms.ModelChoiceField(
        Department.objects.all(), label="Department", required=False, empty_label="none"
    )
    is_laboratory = forms.BooleanField(label="Work is done here: it is the laboratory", required=False)


class FamilyForm(forms.Form):
    """A family of gauges."""

    code = forms.SlugField(
        label="Code",
        max_length=40,
        help_text="Small letters and hyphens; it stays. Such as outside-micrometer.",
    )
    name = forms.CharField(label="Name", max_length=80)
    bench_hours = forms.DecimalField(
        label="Bench hours for one calibration", min_value=0, max_digits=5, decimal_places=2,
        help_text="What planning counts with.",
    )  # fmt: skip
    default_interval_months = forms.IntegerField(
        label="Interval to begin with (months)", min_value=1, max_value=240,
        help_text="A new gauge starts with it. Intervals that were assigned stay as they are.",
    )  # fmt: skip
    quantity = forms.ChoiceField(
        label="What its gauges measure", choices=[(one.value, one.value) for one in Quantity], initial=Quantity.LENGTH,
        required=False, help_text="It stays. Protractors measure angles: their limits and results are in degrees, "
        "minutes and seconds.",
    )  # fmt: skip

    def clean_quantity(self) -> str:
        """Take length where nothing was said."""
        return self.cleaned_data["quantity"] or Quantity.LENGTH


class DepartmentChangeForm(DepartmentForm):
    """A correction of a department."""

    reason = reason_field()


class PlaceChangeForm(PlaceForm):
    """A correction of a place."""

    reason = reason_field()


class FamilyChangeForm(FamilyForm):
    """A correction of a family; its code and what it measures aren't among it."""

    code = None  # type: ignore[assignment]
    quantity = None  # type: ignore[assignment]
    reason = reason_field()
