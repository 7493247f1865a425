"""Fields that find one record by its name, typed or chosen from suggestions: a list of thousands fits in no box."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Concat

from instruments.inventory.models import Gauge, GaugeModel
from labsys.accounts.models import Person
from labsys.laboratory.models import Place
from labsys.laboratory.queries import called

MOST_SUGGESTIONS = 200


class Suggesting(forms.TextInput):
    """A line of text with suggestions below it; without suggestions it is a line of text."""

    template_name = "instruments/inventory/widgets/suggesting.html"
    suggestions: Callable[[], Iterable[str]] = tuple

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Add the suggestions, asked for when the field is shown and not before."""
        context = super().get_context(name, value, attrs)
        identity = f"{context['widget']['attrs'].get('id', name)}-suggestions"
        context["widget"]["attrs"]["list"] = identity
        return {**context, "list_id": identity, "suggestions": self.suggestions()}


class LookupField(forms.CharField):
    """Finds one record by its text, whatever the capitals; says so where there is none or more than one."""

    widget = Suggesting

    def __init__(
        self, *, what: str, find: Callable[[str], QuerySet], show: Callable[[], Iterable[str]], **more: Any
    ) -> None:
        super().__init__(**more)
        self.what, self.find = what, find
        self.widget.suggestions = show

    def clean(self, value: Any) -> Any:
        """Give the record, or None for an empty optional field."""
        text = super().clean(value)
        if not text:
            return None
        found = list(self.find(text)[:2])
        if len(found) != 1:
            known = "More than one" if found else "No"
            raise ValidationError(f"{known} {self.what} is called “{text}”. Choose one of the suggestions.")
        return found[0]


def model_field(**more: Any) -> LookupField:
    """Make a field that finds a model by maker and designation."""
    named = GaugeModel.objects.annotate(full=Concat("maker", Value(" "), "designation")).select_related(
        "family"
    )
    texts = named.values_list("full", flat=True)
    return LookupField(
        what="model",
        find=lambda text: named.filter(full__iexact=text),
        show=lambda: texts[:MOST_SUGGESTIONS],
        help_text="Maker and designation, as on the page of models.",
        **more,
    )


def place_field(**more: Any) -> LookupField:
    """Make a field that finds a place by its name."""
    texts = Place.objects.values_list("name", flat=True)
    return LookupField(
        what="place",
        find=lambda text: Place.objects.filter(name__iexact=text),
        show=lambda: texts[:MOST_SUGGESTIONS],
        **more,
    )


def person_field(**more: Any) -> LookupField:
    """Make a field that finds a person by user name or name."""
    active = Person.objects.filter(is_active=True)
    texts = active.values_list("username", flat=True)
    return LookupField(
        what="person",
        find=lambda text: active.filter(Q(username__iexact=text) | Q(name__iexact=text)),
        show=lambda: texts[:MOST_SUGGESTIONS],
        help_text="The user name, or the name where only one has it.",
        **more,
    )


def gauge_field(**more: Any) -> LookupField:
    """Make a field that finds a gauge by its tag; nothing is suggested, tags are scanned or typed."""
    return LookupField(
        what="gauge",
        find=lambda text: called(Gauge.objects.select_related("tag"), text),
        show=tuple,
        **more,
    )
