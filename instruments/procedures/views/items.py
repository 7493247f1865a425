"""The page on which one item of a list is changed, added, moved or removed: a look, a range, a budget component."""

from __future__ import annotations

import json
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.procedures.access import DRAFT_PROCEDURES
from instruments.procedures.document.budget import KINDS
from instruments.procedures.forms.items import ITEMS, ItemForm
from instruments.procedures.models import Revision
from instruments.procedures.operations import change_draft
from instruments.procedures.views.drafting import changed, draft_or_refuse
from instruments.procedures.views.frame import form_page, home, person

MOVES = {"earlier": -1, "later": 1}


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def item(request: HttpRequest, pk: int, items: str, index: int) -> HttpResponse:
    """Change one item of a list, or with another button move or remove it."""
    row, kind = draft_or_refuse(pk), _kind(items)
    stored = json.loads(row.content)
    found = _list(stored, kind)
    if index >= len(found):
        raise Http404("no such item")
    asked = request.POST.get("act", "")
    if asked in MOVES or asked == "remove":
        return _moved(request, row, items, _after(asked, found, index))
    form = kind(request.POST or None, item=found[index], sha256=row.content_sha256)
    if form.is_valid():
        _put(stored, kind, [*found[:index], form.item(), *found[index + 1 :]])
        if changed(request, form, row, stored, within=f"{'.'.join(kind.path)}[{index}]"):
            return redirect(home(row, items))
    return _page(request, form, row, items, place=(index, len(found)))


@login_required
@permission_required(DRAFT_PROCEDURES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int, items: str) -> HttpResponse:
    """Add an item to a list; a budget component once its kind is chosen."""
    row, kind = draft_or_refuse(pk), _kind(items)
    empty: dict[str, Any] = {}
    if items == "budget":
        empty = {"kind": request.GET.get("kind", "")}
        if empty["kind"] not in KINDS:
            context = {"revision": row, "kinds": KINDS, "back": home(row, items)}
            return render(request, "instruments/procedures/kinds.html", context)
    form = kind(request.POST or None, item=empty, sha256=row.content_sha256)
    stored = json.loads(row.content)
    if form.is_valid():
        found = [*_list(stored, kind), form.item()]
        _put(stored, kind, found)
        if changed(request, form, row, stored, within=f"{'.'.join(kind.path)}[{len(found) - 1}]"):
            return redirect(home(row, items))
    return _page(request, form, row, items, place=None)


def _page(
    request: HttpRequest, form: ItemForm, row: Revision, items: str, *, place: tuple[int, int] | None
) -> HttpResponse:
    index, count = place or (0, 0)
    context = {
        "revision": row,
        "heading": f"{'Add a' if place is None else 'Change a'} {form.named}: {row}",
        "act": "Add" if place is None else "Keep",
        "back": home(row, items),
        "lead": getattr(form, "words", ""),
        "may_remove": place is not None and count > 1,
        "may_rise": place is not None and form.can_move and index > 0,
        "may_sink": place is not None and form.can_move and index < count - 1,
    }
    return form_page(request, form, **context)


def _kind(items: str) -> type[ItemForm]:
    kind = ITEMS.get(items)
    if kind is None:
        raise Http404("no such list")
    return kind


def _list(stored: dict[str, Any], kind: type[ItemForm]) -> list[dict[str, Any]]:
    found: Any = stored
    for step in kind.path:
        found = found[step]
    return list(found)


def _put(stored: dict[str, Any], kind: type[ItemForm], items: list[dict[str, Any]]) -> None:
    target = stored
    for step in kind.path[:-1]:
        target = target[step]
    target[kind.path[-1]] = kind.ordered(items)


def _moved(request: HttpRequest, row: Revision, items: str, found: list[dict[str, Any]]) -> HttpResponse:
    """Keep a list after a move or a removal, which need nothing of what is typed; a refusal gets its own page."""
    stored = json.loads(row.content)
    _put(stored, ITEMS[items], found)
    change_draft(
        revision=row,
        content_text=json.dumps(stored, ensure_ascii=False),
        change=row.change,
        based_on_sha256=request.POST.get("based_on") or None,
        by=person(request),
        now=timezone.now(),
    )
    messages.success(request, f"{row} is changed.")
    return redirect(home(row, items))


def _after(asked: str, items: list[dict[str, Any]], index: int) -> list[dict[str, Any]]:
    """Give the list without the item, or with it one place earlier or later."""
    others = [*items[:index], *items[index + 1 :]]
    if asked == "remove":
        return others
    place = max(0, min(len(others), index + MOVES[asked]))
    return [*others[:place], items[index], *others[place:]]
