"""Finding anything from one field: by what is written on it, or by a scan of its label."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from instruments.desk.finding import find, scanned
from instruments.inventory.views.frame import person
from labsys.accounts.access import MANAGE_PEOPLE
from labsys.journal.access import READ_RECORDS

LONGEST = 200


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def search(request: HttpRequest) -> HttpResponse:
    """Lead from a scanned label straight to what carries it; of anything typed, list what carries it.

    People are found by those who manage them.
    """
    text = request.GET.get("q", "")[:LONGEST].strip()
    page = scanned(text)
    if page:
        return redirect(page)
    with_people = person(request).has_perm(MANAGE_PEOPLE)
    context = {"text": text, "groups": find(text, with_people=with_people), "with_people": with_people}
    return render(request, "instruments/desk/search.html", context)
