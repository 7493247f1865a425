"""Forms of the register: what a page may send, read into what an act takes."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from labsys.errors import LabError
from labsys.laboratory.models import MeasuringFunction, Place
from labsys.laboratory.queries import local_date
from labsys.metrology.angle_readings import angle_text, enter_angle
from labsys.metrology.units import Quantity, Unit
from labsys.pages.figures import plain
from standards.register.models import Element, Standard, StandardState, quantity_of
from standards.register.operations import ElementData, StandardData
from standards.register.operations.states import REACHABLE
from standards.register.queries import end_of_day

MOST_PLACES = 200


class FigureField(forms.DecimalField):
    """A number as people type it: comma or point, a minus of either kind."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**{"max_digits": 15, "decimal_places": 9, **more})
        self.widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value: Any) -> Any:
        """Read the number; one comma is the decimal sign."""
        if isinstance(value, str):
            value = value.strip().replace("\N{MINUS SIGN}", "-")
            value = value.replace(",", ".") if value.count(",") == 1 and "." not in value else value
        return super().to_python(value)


class AngleField(FigureField):
    """An angle, given in arc seconds: with its marks, 45°, 45° 05′, or a number alone in the unit ``unmarked``."""

    def __init__(self, *, unmarked: Unit, **more: Any) -> None:
        super().__init__(**{"max_digits": 16, **more})
        self.unmarked = unmarked

    def to_python(self, value: Any) -> Any:
        """Read the angle."""
        text = value.strip() if isinstance(value, str) else ""
        if not text:
            return super().to_python(value)
        try:
            return enter_angle(text, unmarked=self.unmarked)
        except LabError as fault:
            raise ValidationError(str(fault)) from fault


def day_field(label: str, **more: Any) -> forms.DateField:
    """Make a field for a calendar day."""
    return forms.DateField(
        label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **more
    )


def reason_field(label: str = "Reason", **more: Any) -> forms.CharField:
    """Make the field for the sentence that every change wants."""
    given = {"help_text": "One sentence for somebody who reads it in two years.", **more}
    return forms.CharField(label=label, max_length=500, widget=forms.Textarea(attrs={"rows": 3}), **given)


class OnForm(forms.Form):
    """As of which day a page is shown; today where nothing, or nothing that is a day, is asked."""

    on = day_field("As of", required=False)

    def day(self, now: datetime) -> date:
        """Give the day asked for, or today."""
        today = local_date(now)
        return (self.cleaned_data.get("on") or today) if self.is_valid() else today

    @classmethod
    def of(cls, asked: QueryDict, now: datetime) -> OnForm:
        """Make the form of what the address asks; it shows today where nothing is asked."""
        return cls(asked if asked.get("on") else {"on": f"{local_date(now)}"})

    def instant(self, now: datetime) -> datetime:
        """Give the instant: now for today, the end of any other day."""
        day = self.day(now)
        return now if day == local_date(now) else end_of_day(day)


class PlaceField(forms.CharField):
    """Finds a place by its name; a plant has too many for a box to choose from."""

    def clean(self, value: Any) -> Place | None:
        """Give the place, or say that there is none."""
        text = super().clean(value)
        if not text:
            return None
        found = Place.objects.filter(name__iexact=text).first()
        if found is None:
            raise ValidationError(f"No place is called “{text}”. Choose one that the Lab's pages list.")
        return found


class FactsForm(forms.Form):
    """What is written about a standard."""

    kind = forms.ChoiceField(label="Kind", choices=Standard.Kind.choices)
    name = forms.CharField(label="Name", max_length=120, help_text="Such as: gauge block set, 47 pieces.")
    maker = forms.CharField(label="Maker", max_length=80, required=False)
    model = forms.CharField(label="Type", max_length=80, required=False)
    serial = forms.CharField(
        label="Serial number", max_length=80, help_text="As the certificate will name it; it is compared."
    )
    grade = forms.CharField(label="Grade", max_length=40, required=False)
    place = PlaceField(label="Place", help_text="The name of the cabinet or bench where it belongs.")
    owner = forms.CharField(
        label="Owner", max_length=80, required=False, help_text="Empty: the laboratory's own."
    )
    interval_months = forms.IntegerField(label="Interval in months", min_value=1, max_value=240, initial=12)
    expansion_per_k = FigureField(
        label="Expansion per kelvin",
        required=False,
        max_digits=12,
        help_text="Steel: about 0.0000115. Left empty for angles: they don't expand.",
    )
    expansion_half_width_per_k = FigureField(
        label="Half width of that", required=False, max_digits=12, help_text="Such as 0.000001."
    )
    wanted_u_constant_mm = FigureField(
        label="Largest U its use allows, constant part in mm (angles: ″)",
        required=False,
        help_text="At k = 2. A certificate with a larger U is then not accepted.",
    )
    wanted_u_per_length = FigureField(
        label="Largest U, share of length",
        required=False,
        max_digits=12,
        help_text="0.000001 is 1 µm per metre.",
    )


class ChangeForm(FactsForm):
    """A change of it, with the reason; tag and elements aren't among it."""

    reason = reason_field()

    @classmethod
    def of(cls, row: Standard, sent: Any = None) -> ChangeForm:
        """Make the form filled in with what is written now."""
        initial = {name: _typed(getattr(row, name)) for name in FactsForm.base_fields}
        return cls(sent, initial={**initial, "place": row.place.name})

    def data_given(self, row: Standard) -> StandardData:
        """Give what was filled in as the act takes it."""
        return StandardData(tag=row.tag, **{name: self.cleaned_data[name] for name in FactsForm.base_fields})


class StandardForm(FactsForm):
    """A standard that comes onto the register."""

    field_order = ("tag",)
    tag = forms.CharField(label="Tag", max_length=40, help_text="As engraved or labelled; it stays for life.")
    elements = forms.CharField(
        label="Elements",
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="One a line: nominal in mm, for angles in degrees (45 or 45° 05′), then a label where it differs, "
        "separated by a semicolon. A ring has one line. More can be added later.",
    )
    functions = forms.MultipleChoiceField(
        label="The elements serve",
        choices=MeasuringFunction.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    stackable = forms.BooleanField(label="The elements can be wrung into stacks", required=False)
    continuous = forms.BooleanField(label="Each serves every length up to its nominal", required=False)

    def clean_elements(self) -> list[tuple[str, Decimal]]:
        """Read the lines into labels and nominals."""
        field = nominal_field(quantity_of(self.cleaned_data.get("kind", "")))
        lines = self.cleaned_data["elements"].splitlines()
        return [_element(line, field) for line in lines if line.strip()]

    def data_given(self) -> StandardData:
        """Give what was filled in as the act takes it."""
        given = dict(self.cleaned_data)
        functions, rows = tuple(given.pop("functions")), given.pop("elements")
        manner = {name: given.pop(name) for name in ("stackable", "continuous")}
        elements = tuple(ElementData(label, size, functions, "", **manner) for label, size in rows)
        return StandardData(elements=elements, **given)


def nominal_field(quantity: Quantity) -> FigureField:
    """Make the field for a nominal: a length in mm, or an angle in degrees, minutes and seconds."""
    if quantity is Quantity.ANGLE:
        return AngleField(
            label="Nominal in degrees", unmarked=Unit.DEG, help_text="Such as 45, 45.5 or 45° 05′."
        )
    return FigureField(label="Nominal in mm")


def _element(line: str, field: FigureField) -> tuple[str, Decimal]:
    nominal, _, label = (part.strip() for part in line.partition(";"))
    try:
        size = field.clean(nominal)
    except ValidationError as problem:
        raise ValidationError(f"“{line.strip()}”: {problem.messages[0]}") from problem
    return label or nominal, size


class ElementForm(forms.Form):
    """An element more."""

    label = forms.CharField(label="Label", max_length=40, help_text="As the certificate will name it.")
    nominal_mm = nominal_field(Quantity.LENGTH)
    serial = forms.CharField(label="Serial number", max_length=80, required=False)
    functions = forms.MultipleChoiceField(
        label="It serves",
        choices=MeasuringFunction.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    stackable = forms.BooleanField(label="It can be wrung into stacks", required=False)
    continuous = forms.BooleanField(label="It serves every length up to its nominal", required=False)

    def __init__(self, *args: Any, quantity: Quantity = Quantity.LENGTH, **more: Any) -> None:
        super().__init__(*args, **more)
        if quantity is Quantity.ANGLE:
            self.fields["nominal_mm"] = nominal_field(quantity)
            self.fields["continuous"].label = "It serves every angle up to its nominal"
            given = self.initial.get("nominal_mm")
            if isinstance(given, str):
                self.initial["nominal_mm"] = angle_text(Decimal(given), Unit.ARCMIN)

    def data_given(self) -> ElementData:
        """Give what was filled in as the act takes it."""
        given = {name: self.cleaned_data[name] for name in ElementForm.base_fields}
        return ElementData(**{**given, "functions": tuple(given["functions"])})


class ElementChangeForm(ElementForm):
    """A change of what is written about an element, with the reason."""

    reason = reason_field()

    @classmethod
    def of(cls, row: Element, sent: Any = None) -> ElementChangeForm:
        """Make the form filled in with what is written now."""
        initial = {name: _typed(getattr(row, name)) for name in ElementForm.base_fields}
        return cls(sent, initial=initial, quantity=row.standard.quantity)


def _typed(value: Any) -> Any:
    """Show a number as somebody would type it: no zeros that say nothing."""
    return plain(value) if isinstance(value, Decimal) else value


class StateForm(forms.Form):
    """Another service state, of those that may follow the one the standard is in."""

    state = forms.ChoiceField(label="New state", widget=forms.RadioSelect)
    reason = reason_field()

    def __init__(self, *args: Any, state_now: str, **more: Any) -> None:
        super().__init__(*args, **more)
        reachable = REACHABLE.get(state_now, frozenset())
        choices = [(value, label) for value, label in StandardState.State.choices if value in reachable]
        self.fields["state"].choices = choices  # type: ignore[attr-defined]


class ReturnForm(forms.Form):
    """What was checked before a standard goes back into service."""

    verification = reason_field(
        "Verification",
        help_text="What was checked, against what, with what result; who read the certificate. One or two sentences.",
    )


class UseForm(forms.Form):
    """Why an element leaves its set, or comes back."""

    reason = reason_field()
