"""Numbers and times on pages: ``{% mm value %}``, ``{% signed error %}``, ``{% when instant %}``, ``{% on date %}``."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django import template
from django.conf import settings
from django.utils.html import format_html
from django.utils.safestring import SafeString

from labsys.pages import figures

register = template.Library()


def _figure(text: str, unit: str) -> SafeString:
    gap = figures.NARROW_GAP if unit else ""
    return format_html('<span class="figure">{}{}<span class="unit">{}</span></span>', text, gap, unit)


@register.simple_tag
def mm(value: Decimal | None, places: int | None = None, unit: str = "mm") -> str:
    """Show a length with its unit, or a dash where there is none."""
    return "–" if value is None else _figure(figures.plain(value, places=places), unit)


@register.simple_tag
def signed(value: Decimal | None, places: int | None = None, unit: str = "mm") -> str:
    """Show an error with its sign and unit, or a dash where there is none."""
    return "–" if value is None else _figure(figures.signed(value, places=places), unit)


@register.simple_tag
def on(day: date | None) -> str:
    """Show a date as 2026-11-25."""
    if day is None:
        return figures.on(None)
    return format_html('<time datetime="{0}">{0}</time>', figures.on(day))


@register.simple_tag
def when(instant: datetime | None) -> str:
    """Show an instant in the lab's zone as 2026-11-25 07:43."""
    if instant is None:
        return figures.when(None, zone=ZoneInfo("UTC"))
    shown = figures.when(instant, zone=ZoneInfo(settings.LAB_ZONE))
    return format_html('<time datetime="{}">{}</time>', instant.isoformat(timespec="seconds"), shown)
