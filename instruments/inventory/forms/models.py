"""Forms for a model as made, and for lines of limits."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from instruments.inventory.forms.gauges import reason_field
from instruments.inventory.models import GaugeModel
from instruments.inventory.models import Unit as Shown
from instruments.inventory.operations import ModelData
from instruments.inventory.queries.limits import plain
from labsys.errors import LabError
from labsys.laboratory.models import CHARACTERISTICS, Family, MeasuringFunction
from labsys.laboratory.queries import start_of_day
from labsys.metrology.angle_readings import angle_text, enter_angle, is_marked
from labsys.metrology.units import Quantity, Unit, to_mm


class LengthField(forms.DecimalField):
    """A length as the tables keep it: nine decimals, below a kilometre, with a point."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**{"max_digits": 15, "decimal_places": 9, **more})
        self.widget.attrs.setdefault("inputmode", "decimal")

    def prepare_value(self, value: Any) -> Any:
        """Show no zeros that say nothing."""
        return plain(value) if hasattr(value, "quantize") else value


class RangeField(LengthField):
    """A length, or an angle typed with its marks, 360° or 45°30′: that is given in arc seconds, up to a whole turn."""

    def __init__(self, **more: Any) -> None:
        super().__init__(max_digits=16, **more)

    def to_python(self, value: Any) -> Any:
        """Read a number, or an angle with its marks."""
        if isinstance(value, str) and is_marked(value):
            try:
                return enter_angle(value, unmarked=Unit.ARCSEC)
            except LabError as fault:
                raise ValidationError(str(fault)) from fault
        return super().to_python(value)


class ModelForm(forms.Form):
    """What a gauge is as made."""

    family = forms.ModelChoiceField(Family.objects.all(), label="Family", empty_label="Choose one")
    maker = forms.CharField(label="Maker", max_length=80)
    designation = forms.CharField(
        label="Designation", max_length=80, help_text="As on the maker's data sheet."
    )
    indication = forms.ChoiceField(label="Indication", choices=GaugeModel.Indication.choices)
    unit = forms.ChoiceField(label="Unit shown", choices=Shown.choices, initial=Shown.MM)
    resolution = LengthField(
        label="Resolution",
        help_text="One step of the display, one division of a dial or vernier, in the unit shown.",
    )
    range_low_mm = RangeField(label="Range from (mm, or degrees)", initial=0)
    range_high_mm = RangeField(
        label="Range to (mm, or degrees)", help_text="A protractor's in degrees: 360, or −180 to 180."
    )
    scale_period_mm = RangeField(
        label="Scale period (mm, or degrees)",
        required=False,
        help_text="A screw's turn, an electronic scale's pitch.",
    )
    functions = forms.MultipleChoiceField(
        label="Measuring functions", choices=MeasuringFunction.choices, widget=forms.CheckboxSelectMultiple
    )
    inside_jaws = forms.ChoiceField(
        label="Inside jaws", choices=GaugeModel.InsideJaws.choices, initial=GaugeModel.InsideJaws.NONE
    )
    expansion_per_k = forms.DecimalField(
        label="Expansion per kelvin",
        max_digits=12,
        decimal_places=9,
        initial="0.0000115",
        required=False,
        help_text="0.0000115 for steel (about; the maker's value where there is one). Not asked of protractors.",
    )

    _IN_RANGE = ("range_low_mm", "range_high_mm", "scale_period_mm")

    def clean(self) -> dict[str, Any]:
        """Take numbers without a mark as degrees where degrees are shown; marks of angles belong there alone."""
        given: dict[str, Any] = super().clean() or {}
        is_angle = bool(given.get("unit")) and Unit(given["unit"]).quantity is Quantity.ANGLE
        for name in self._IN_RANGE:
            has_mark = is_marked(str(self.data.get(name, "")))
            if is_angle and given.get(name) is not None and not has_mark:
                given[name] = to_mm(given[name], Unit.DEG)
            elif has_mark and not is_angle:
                self.add_error(
                    name, "Expected a length in mm, found an angle. Choose ° or ° ′ as the unit shown."
                )
        if given.get("expansion_per_k") is None and "expansion_per_k" not in self.errors:
            if not is_angle:
                self.add_error("expansion_per_k", self.fields["expansion_per_k"].error_messages["required"])
            given["expansion_per_k"] = ModelData.expansion_per_k
        return given

    def data_given(self) -> ModelData:
        """Give what was filled in as the act takes it."""
        given = {name: self.cleaned_data[name] for name in ModelForm.base_fields}
        given["functions"] = tuple(given["functions"])
        return ModelData(**given)


class ModelChangeForm(ModelForm):
    """A correction of what is written about a model."""

    reason = reason_field()

    @classmethod
    def of(cls, model: GaugeModel, sent: Any = None) -> ModelChangeForm:
        """Make the form filled in with what is written now."""
        initial = {name: getattr(model, name) for name in ModelForm.base_fields}
        initial["expansion_per_k"] = plain(model.expansion_per_k)
        if model.quantity is Quantity.ANGLE:
            ends = {name: initial[name] for name in cls._IN_RANGE if initial[name] is not None}
            initial |= {name: angle_text(value, Unit.DEG) for name, value in ends.items()}
        return cls(sent, initial=initial)


class LimitsForm(forms.Form):
    """What stands around the lines of limits."""

    source = forms.CharField(
        label="Source",
        max_length=500,
        help_text="The standard with its edition and table, the maker's data sheet, or an own decision.",
    )
    confirmed = forms.BooleanField(
        label="Compared with our own copy of the source",
        required=False,
        help_text="Until then the limits are marked not confirmed, and no certificate says that a gauge complies.",
    )
    valid_from = forms.DateField(label="From", widget=forms.DateInput(attrs={"type": "date"}))
    reason = forms.CharField(label="Reason", max_length=300, required=False)

    def instant(self, today_now: datetime, today: Any) -> datetime:
        """Give the instant the limits hold from: now for today, the beginning of any other day."""
        day = self.cleaned_data["valid_from"]
        return today_now if day == today else start_of_day(day)


class LimitRowForm(forms.Form):
    """One line of limits; an empty line is left out."""

    function = forms.ChoiceField(
        label="Function", choices=[("", "–"), *CHARACTERISTICS.items()], required=False
    )
    up_to_mm = forms.CharField(label="Up to (mm)", required=False)
    lower_mm = forms.CharField(label="Lower limit (mm)", required=False)
    upper_mm = forms.CharField(label="Upper limit (mm)", required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = field.label
            field.widget.attrs["inputmode"] = "decimal"


def say_quantity(lines: Any, quantity: str) -> Any:
    """Name the unit in the labels of lines of limits: of angles arc seconds, or any unit by its mark."""
    if quantity == Quantity.ANGLE:
        for form in lines:
            for field in form.fields.values():
                field.widget.attrs["aria-label"] = str(field.label).replace("(mm)", "(″, or with ° ′)")
                field.widget.attrs["inputmode"] = "text"
    return lines


EMPTY_LINES = 4
LimitRows = forms.formset_factory(LimitRowForm, extra=EMPTY_LINES)


def lines_given(rows: Any) -> list[dict[str, Any]]:
    """Give the lines that were filled in, as they travel; what is wrong with one the act says."""
    filled = [form.cleaned_data for form in rows if any(form.cleaned_data.values())]
    lengths = ("up_to_mm", "lower_mm", "upper_mm")
    return [{"function": row["function"], **{name: row[name] or None for name in lengths}} for row in filled]
