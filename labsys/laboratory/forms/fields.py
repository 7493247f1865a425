"""Fields that several forms of the laboratory share."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError


def reason_field(**more: Any) -> forms.CharField:
    """Make the field for the reason that every change wants."""
    said = {"help_text": "Why, in words that somebody understands who reads it in two years.", **more}
    return forms.CharField(label="Reason", max_length=300, **said)


def day_field(**more: Any) -> forms.DateField:
    """Make a field for a day."""
    return forms.DateField(widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **more)


class Figure(forms.CharField):
    """A number kept as exact text, typed with point or comma."""

    def __init__(self, **more: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs={"inputmode": "decimal", "size": 12}), **more)

    def clean(self, value: Any) -> str | None:
        """Read the number; None for an empty one that may be."""
        text = str(super().clean(value)).strip().replace(",", ".").replace("−", "-")
        if not text:
            return None
        try:
            number = Decimal(text)
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite() or len(text) > 40:
            raise ValidationError(f"Expected a number such as 0.02, found “{text[:40]}”.")
        return text


class Lines(forms.CharField):
    """A list of texts, one on each line."""

    def __init__(self, **more: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": 3}), **more)

    def clean(self, value: Any) -> list[str]:
        """Read the lines that are not empty."""
        return [line.strip() for line in super().clean(value).splitlines() if line.strip()]
