"""The first page of everybody: where their moment is answered."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from instruments.desk.queries import own_gauges
from instruments.inventory.views.frame import person as who
from instruments.measuring.access import MEASURE, REVIEW
from instruments.recall.access import PLAN_RECALL
from labsys.accounts.access import MANAGE_PEOPLE
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date

# Whoever holds the first of these begins there; the floor has its own gauges.
BEGINNINGS = (
    (MEASURE, "bench"),
    (REVIEW, "review"),
    (PLAN_RECALL, "planning"),
    (MANAGE_PEOPLE, "lab"),
    (READ_RECORDS, "search"),
)


@login_required
@require_GET
def first(request: HttpRequest) -> HttpResponse:
    """Lead to the page that answers this person's moment."""
    person = who(request)
    for permission, name in BEGINNINGS:
        if person.has_perm(permission):
            return redirect(name)
    return redirect("own-gauges")


@login_required
@require_GET
def own(request: HttpRequest) -> HttpResponse:
    """Show a custodian the gauges in their own keeping, what is due first at the head."""
    today = local_date(timezone.now())
    context = {"lines": own_gauges(who(request), today), "today": today}
    return render(request, "instruments/desk/own.html", context)
