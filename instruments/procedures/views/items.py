"""The page on which one item of a list is changed, added, moved or removed: a look, a range, a series, a component."""

from __future__ import annotations

import json
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from instruments.procedures.access import DRAFT_PROCEDURES
from instruments.procedures.document.budget import KINDS
from instruments.procedures.forms.items import ComponentForm, ItemForm
from instruments.procedures.forms.lists import ItemList, list_named
from instruments.procedures.models import Revision
from instruments.procedures.views.drafting import changed, draft_or_refuse, keep_at_once
from instruments.procedures.views.frame import form_page, home

MOVES = {"earlier": -1, "later": 1}
REDRAW = "show"
"""The button that shows what another choice asks, without keeping anything."""


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def item(request: HttpRequest, pk: int, items: str, index: int) -> HttpResponse:
    """Change one item of a list, or with another button move or remove it."""
    row = draft_or_refuse(pk)
    stored = json.loads(row.content)
    listed = _listed(items, stored)
    found = listed.items(stored)
    if index >= len(found):
        raise Http404("no such item")
    asked = request.POST.get("act", "")
    if asked in MOVES or asked == "remove":
        listed.put(stored, _after(asked, found, index))
        return keep_at_once(request, row, stored, listed.part)
    form = listed.form(request.POST or None, item=found[index], sha256=row.content_sha256, content=stored)
    if _may_keep(request, form):
        listed.put(stored, [*found[:index], form.item(), *found[index + 1 :]])
        if changed(request, form, row, stored, within=listed.place(index)):
            return redirect(home(row, form.part(listed.part)))
    return _page(request, form, row, listed, place=(index, len(found)))


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int, items: str) -> HttpResponse:
    """Add an item to a list; a budget component once its kind is chosen."""
    row = draft_or_refuse(pk)
    stored = json.loads(row.content)
    listed = _listed(items, stored)
    empty: dict[str, Any] = {}
    if listed.form is ComponentForm:
        empty = {"kind": request.GET.get("kind", "")}
        if empty["kind"] not in KINDS:
            context = {"revision": row, "kinds": KINDS, "back": home(row, listed.part), "of": listed.of}
            return render(request, "instruments/procedures/kinds.html", context)
    form = listed.form(request.POST or None, item=empty, sha256=row.content_sha256, content=stored)
    if _may_keep(request, form):
        found = [*listed.items(stored), form.item()]
        listed.put(stored, found)
        if changed(request, form, row, stored, within=listed.place(len(found) - 1)):
            return redirect(home(row, form.part(listed.part)))
    return _page(request, form, row, listed, place=None)


def _may_keep(request: HttpRequest, form: ItemForm) -> bool:
    """Say whether what was sent is to be kept and can be: not where only other fields were asked for."""
    if form.can_redraw and request.POST.get("act") == REDRAW:
        form.redrawn()
        return False
    return form.is_valid()


def _page(
    request: HttpRequest, form: ItemForm, row: Revision, listed: ItemList, *, place: tuple[int, int] | None
) -> HttpResponse:
    index, count = place or (0, 0)
    context = {
        "revision": row,
        "heading": f"{'Add a' if place is None else 'Change a'} {form.named}: {row}",
        "act": "Add" if place is None else "Keep",
        "back": home(row, listed.part),
        "lead": getattr(form, "words", "") + (f", for “{listed.of}” alone" if listed.of else ""),
        "may_remove": place is not None and (count > 1 or listed.may_be_empty),
        "may_rise": place is not None and form.can_move and index > 0,
        "may_sink": place is not None and form.can_move and index < count - 1,
    }
    return form_page(request, form, **context)


def _listed(name: str, stored: dict[str, Any]) -> ItemList:
    listed = list_named(name, stored)
    if listed is None:
        raise Http404("no such list")
    return listed


def _after(asked: str, items: list[dict[str, Any]], index: int) -> list[dict[str, Any]]:
    """Give the list without the item, or with it one place earlier or later."""
    others = [*items[:index], *items[index + 1 :]]
    if asked == "remove":
        return others
    place = max(0, min(len(others), index + MOVES[asked]))
    return [*others[:place], items[index], *others[place:]]
