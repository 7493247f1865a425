"""Words for points: the place on a gauge."""

from __future__ import annotations

from django import template

from instruments.measuring.showing.words import place

register = template.Library()


@register.filter
def place_words(code: str) -> str:
    """Name a place on a gauge: near the beam, entry, 90°."""
    return place(code)
