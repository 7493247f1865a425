"""Forms of the bench beside the one field: opening, leaving out, other references, adjusting, voiding."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django import forms

from instruments.inventory.models import Gauge
from instruments.measuring.models import Strike
from instruments.measuring.operations import AdjustmentData
from instruments.measuring.queries import InHand
from labsys.laboratory.models import Place
from standards.register.models import Element
from standards.register.queries import Available

SKIP_REASONS = (
    ("standard not at hand", "the standard is not at hand"),
    ("faces damaged here", "the faces are damaged here"),
    ("function missing", "the gauge does not have this function"),
    ("cannot be reached", "the length can't be reached"),
)
ANOTHER = "another reason"


class FindForm(forms.Form):
    """A tag, typed or scanned."""

    label = forms.CharField(
        label="Tag or label",
        max_length=300,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}),
        help_text="Scan the label, or type the tag.",
    )


class OpenForm(forms.Form):
    """Where in the laboratory the gauge is measured."""

    place = forms.ModelChoiceField(
        queryset=Place.objects.filter(is_laboratory=True), label="Measured at", empty_label=None
    )


class SittingForm(OpenForm):
    """The gauges of a sitting, chosen from what is received and waits, and where they are measured."""

    gauges = forms.MultipleChoiceField(
        label="Gauges",
        choices=(),
        error_messages={
            "required": "Choose at least two gauges of one kind.",
            "invalid_choice": "One of the gauges is not received any more, or has a session by now. Choose again.",
        },
    )

    def __init__(self, *args: Any, offered: Sequence[InHand], **more: Any) -> None:
        super().__init__(*args, **more)
        self.offered = {str(one.gauge.pk): one.gauge for one in offered}
        field = self.fields["gauges"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(pk, str(gauge)) for pk, gauge in self.offered.items()]

    @property
    def chosen(self) -> list[Gauge]:
        """Give the chosen gauges by their tags."""
        found = [self.offered[pk] for pk in self.cleaned_data["gauges"]]
        return sorted(found, key=lambda gauge: gauge.tag.text)


class ReasonForm(forms.Form):
    """Why."""

    reason = forms.CharField(label="Reason", max_length=200, widget=forms.Textarea(attrs={"rows": 2}))


class SkipForm(forms.Form):
    """Why a point is left out: from a short list, or in own words."""

    why = forms.ChoiceField(
        label="Why is this point left out?",
        choices=(*SKIP_REASONS, (ANOTHER, ANOTHER)),
        widget=forms.RadioSelect,
    )
    words = forms.CharField(label="In words", max_length=180, required=False)

    def clean(self) -> dict[str, Any]:
        """Ask for words where the list didn't do."""
        cleaned = super().clean() or {}
        if cleaned.get("why") == ANOTHER and not cleaned.get("words", "").strip():
            self.add_error("words", "Say the other reason.")
        return cleaned

    @property
    def reason(self) -> str:
        """Give the reason as it is kept."""
        why, words = self.cleaned_data["why"], self.cleaned_data["words"].strip()
        return words if why == ANOTHER else ": ".join(filter(None, (why, words)))


class ReferencesForm(forms.Form):
    """The elements that a point is compared with, chosen from what may be used now."""

    elements = forms.MultipleChoiceField(
        label="References",
        widget=forms.CheckboxSelectMultiple,
        help_text="Several blocks make a stack; their lengths add up.",
        error_messages={"required": "Choose at least one element of a standard."},
    )

    def __init__(self, *args: Any, offered: Sequence[Available], **more: Any) -> None:
        super().__init__(*args, **more)
        self.offered = {str(item.element.pk): item.element for item in offered}
        field = self.fields["elements"]
        assert isinstance(field, forms.MultipleChoiceField)
        by_standard: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for item in offered:
            by_standard[str(item.standard)].append((str(item.element.pk), item.element.label))
        field.choices = list(by_standard.items())

    @property
    def chosen(self) -> list[tuple[Element, int]]:
        """Give the chosen elements, each once."""
        return [(self.offered[pk], 1) for pk in self.cleaned_data["elements"]]


class AddPointForm(ReferencesForm):
    """A point beyond what was proposed."""

    place = forms.ChoiceField(
        label="Place on the faces",
        choices=(),
        widget=forms.RadioSelect,
        error_messages={"required": "Say where on the faces."},
    )
    field_order = ("place", "elements")

    def __init__(self, *args: Any, places: Sequence[tuple[str, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["place"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(places)
        if not places:
            del self.fields["place"]


class OtherReferencesForm(ReferencesForm):
    """Other references for a point, with the reason."""

    reason = forms.CharField(label="Reason", max_length=200)
    field_order = ("reason", "elements")


class FunctionForm(forms.Form):
    """Which function a new point is for."""

    function = forms.ChoiceField(label="Measuring function", choices=())

    def __init__(self, *args: Any, functions: Sequence[tuple[str, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["function"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(functions)


class AdjustmentForm(forms.Form):
    """What was done to the gauge between as found and as left."""

    what = forms.CharField(
        label="What was adjusted, repaired or replaced",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say what was adjusted, repaired or replaced."},
    )
    parts = forms.CharField(label="Parts", max_length=200, required=False)
    seal = forms.CharField(
        label="Seal", max_length=100, required=False, help_text="The new seal, where one was set."
    )
    firmware = forms.CharField(label="Firmware", max_length=60, required=False)

    def data_given(self) -> AdjustmentData:
        """Give what was typed as the act wants it."""
        return AdjustmentData(**self.cleaned_data)


class DeviationForm(forms.Form):
    """A rule that stays open, accepted with a reason; the owner's word where the agreement asks for it."""

    rule = forms.ChoiceField(label="Rule that stays open", choices=(), widget=forms.RadioSelect)
    reason = forms.CharField(label="Reason", max_length=500, widget=forms.Textarea(attrs={"rows": 2}))
    owner_consent = forms.CharField(
        label="The owner's consent", max_length=200, required=False, help_text="Who agreed, and how."
    )

    def __init__(self, *args: Any, rules: Sequence[tuple[str, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["rule"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(rules)


class StrikeForm(forms.Form):
    """Why a reading that is out of tolerance does not count."""

    reason = forms.ChoiceField(label="Reason", choices=Strike.Reason.choices, widget=forms.RadioSelect)
    remark = forms.CharField(label="In words", max_length=200)
