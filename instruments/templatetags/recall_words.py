"""Small words of the planning pages: days with their sign, and what stands for a row in a table of answers."""

from __future__ import annotations

from collections.abc import Mapping

from django import template

from instruments.recall.queries.whereabouts import Whereabouts
from labsys.pages import figures

register = template.Library()


@register.filter
def signed_days(count: int) -> str:
    """Write days with their sign: −3 is three days late."""
    return f"+{count}" if count > 0 else str(count).replace("-", figures.MINUS)


@register.filter
def at(found: Mapping[int, Whereabouts], pk: int) -> str:
    """Give the sentence that stands for a row."""
    return found[pk].sentence
