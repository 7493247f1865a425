"""Tables on pages: ``{% table table %}``, ``{% sort_head column order %}``, ``{% paging page count %}``.

For links that keep the filter use Django's own ``{% querystring request.GET order="due" page=None %}``.
"""

from __future__ import annotations

from typing import Any

from django import template
from django.template import Context

from labsys.pages import keyset, tables

register = template.Library()


@register.inclusion_tag("labsys/elements/table.html", takes_context=True)
def table(context: Context, table: tables.Table) -> dict[str, Any]:
    """Show a table with its heads, sorted and selectable as it says."""
    return {"table": table, "request": context.get("request")}


@register.inclusion_tag("labsys/elements/sort_head.html", takes_context=True)
def sort_head(context: Context, column: tables.Column, order: tables.Order | None) -> dict[str, Any]:
    """Show a column's head; a link where the table can be sorted by it, with the direction it has now."""
    mine = order is not None and order.key == column.key
    follow = order.flipped if mine and order is not None else tables.Order(column.key)
    direction = ("descending" if order.descending else "ascending") if mine and order else ""
    return {
        "column": column,
        "can_sort": bool(column.sort) and order is not None,
        "follow": follow.text,
        "direction": direction,
        "request": context.get("request"),
    }


@register.inclusion_tag("labsys/elements/paging.html", takes_context=True)
def paging(context: Context, page: keyset.Page, count: tables.Count | None = None) -> dict[str, Any]:
    """Show how many there are and the links to the pages before and after."""
    return {"page": page, "count": count, "request": context.get("request")}


@register.inclusion_tag("labsys/elements/columns.html", takes_context=True)
def columns_choice(context: Context, table: tables.Table) -> dict[str, Any]:
    """Offer the columns to choose from; the filter and the order in the address stay as they are."""
    request = context.get("request")
    lists = request.GET.lists() if request else ()
    kept = [(name, value) for name, values in lists if name not in ("columns", "page") for value in values]
    return {"table": table, "kept": kept}
