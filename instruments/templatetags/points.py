"""Words for points: the place on a gauge."""

from __future__ import annotations

from django import template

from instruments.measuring.models import Point
from instruments.measuring.showing.words import place

register = template.Library()


@register.filter
def said_in(point: Point, unit: str) -> str:
    """Name a point by function and size, for a gauge that shows this unit."""
    return point.said_in(unit)


@register.filter
def place_words(code: str) -> str:
    """Name a place on a gauge: near the beam, entry, 90°."""
    return place(code)
