"""Numbers and times on pages: ``{% mm value %}``, ``{% signed error %}``, ``{% when instant %}``, ``{% on date %}``."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.conf import settings
from django.utils.html import format_html
from django.utils.safestring import SafeString

from labsys.metrology.units import Quantity, Unit, from_mm
from labsys.pages import figures

register = template.Library()


def _figure(text: str, unit: str) -> SafeString:
    gap = figures.gap_before(unit)
    return format_html('<span class="figure">{}{}<span class="unit">{}</span></span>', text, gap, unit)


@register.simple_tag
def mm(value: Decimal | None, places: int | None = None, unit: str = "mm") -> str:
    """Show a length with its unit, or a dash where there is none."""
    return "–" if value is None else _figure(figures.plain(value, places=places), unit)


@register.simple_tag
def size(value: Decimal | None, unit: str = "mm") -> str:
    """Show a size kept in the base unit of what is measured, in the unit given: 41.3 mm, 45° 05′; a dash for none."""
    if value is None:
        return "–"
    if Unit(unit).quantity is Quantity.ANGLE:
        return format_html('<span class="figure">{}</span>', figures.size(value, unit))
    return _figure(figures.plain(from_mm(value, Unit(unit))), unit)


@register.filter
def extent(unit: str) -> str:
    """Name what stands in a column of sizes in this unit."""
    return Unit(unit).quantity.capitalize()


@register.filter
def with_unit(text: str, unit: str) -> str:
    """Put a unit behind a number: 0.01 mm, 5′."""
    gap = " " if figures.gap_before(unit) else ""
    return f"{text}{gap}{unit}"


@register.filter
def sizes_unit(unit: str) -> str:
    """Name the unit over a column of sizes."""
    return figures.sizes_unit(unit)


@register.simple_tag
def signed(value: Decimal | None, places: int | None = None, unit: str = "mm") -> str:
    """Show an error with its sign and unit, or a dash where there is none."""
    return "–" if value is None else _figure(figures.signed(value, places=places), unit)


@register.simple_tag
def limit(value: Decimal | None, quantity: str = Quantity.LENGTH) -> str:
    """Show a limit with its sign: +0.03 mm, or an angle as it was agreed, +5′; a dash where there is none."""
    if value is None or quantity != Quantity.ANGLE:
        return signed(value)
    text = figures.marked(value)
    return format_html('<span class="figure">{}</span>', f"+{text}" if value > 0 else text)


@register.simple_tag
def limit_end(value: Decimal) -> str:
    """Show the angle that a line of limits reaches to: 360°."""
    return format_html('<span class="figure">{}</span>', figures.marked(value))


@register.filter
def entered(rows: list[dict[str, Any]] | None, quantity: str) -> list[dict[str, Any]]:
    """Give lines of limits, which travel as text, for a table: those of angles with their marks."""
    return figures.limit_rows(rows or [], quantity)


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
