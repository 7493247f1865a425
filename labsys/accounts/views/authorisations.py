"""Who may do what with which family: the list as of any day, granting, withdrawing."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET, require_http_methods

from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.filters import SOON_DAYS, AuthorisationFilter
from labsys.accounts.forms import AuthoriseForm, ReasonForm
from labsys.accounts.models import Activity, Authorisation
from labsys.accounts.operations import authorise, withdraw_authorisation
from labsys.accounts.queries import authorisations_in_force
from labsys.accounts.views.frame import asking, home, path_to, person_or_404
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.as_of import as_of, beginning
from labsys.laboratory.queries import local_date
from labsys.pages import figures, keyset
from labsys.pages.form_page import FormPage
from labsys.pages.refusals import attempt
from labsys.pages.tables import Column, Row, Table, capped_count, order_from

COLUMNS = (
    Column("person", "Person", sort=("person__name", "family__name", "activity", "pk"), row_head=True),
    Column("activity", "May", sort=("activity", "person__name", "pk")),
    Column("family", "Family", sort=("family__name", "person__name", "activity", "pk")),
    Column("since", "Since", sort=("valid_from", "pk"), nowrap=True),
    Column("lapses", "Lapses", nowrap=True),
    Column("evidence", "Evidence"),
    Column("granted_by", "Given by"),
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def authorisations(request: HttpRequest) -> HttpResponse:
    """List who may do what, now or on the day ``on`` names."""
    shown_of = as_of(request, timezone.now())
    rows = authorisations_in_force(shown_of.at)
    filters = AuthorisationFilter(request.GET, queryset=rows)
    found = filters.qs if filters.is_valid() else rows.none()
    order = order_from(request, COLUMNS, default="person")
    page = keyset.page(found, order=order.fields(COLUMNS), token=request.GET.get("page", ""))
    soon = local_date(shown_of.at) + timedelta(days=SOON_DAYS)
    context = {
        "filters": filters,
        "as_of": shown_of,
        "table": Table("Authorisations", COLUMNS, [_row(one, soon) for one in page.rows], order),
        "page": page,
        "count": capped_count(found),
    }
    return render(request, "labsys/accounts/authorisations.html", context)


def _row(row: Authorisation, soon: date) -> Row:
    return Row(row.pk, _cells(row, soon), row.person.name)


def _cells(row: Authorisation, soon: date) -> dict[str, Any]:
    lapses = row.lapses_on
    flag = ' <span class="flag">soon</span>' if lapses and lapses <= soon else ""
    learning = ' <span class="flag">under supervision</span>' if row.supervised else ""
    return {
        "person": format_html('<a href="{}">{}</a>', home(row.person), row.person.name),
        "activity": format_html("{}" + learning, row.get_activity_display()),
        "family": row.family.name,
        "since": figures.on(local_date(row.valid_from)),
        "lapses": format_html("{}" + flag, figures.on(lapses)) if lapses else "no term",
        "evidence": row.evidence,
        "granted_by": row.granted_by,
    }


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def grant(request: HttpRequest, pk: int) -> HttpResponse:
    """Authorise a person."""
    person, now = person_or_404(pk), timezone.now()
    form = AuthoriseForm(request.POST or None, initial={"valid_from": local_date(now)})
    if form.is_valid():
        given: dict[str, Any] = {
            "grant": form.grant_for(person),
            "valid_from": beginning(form.cleaned_data["valid_from"], now),
        }
        row = attempt(form, authorise, **given, by=asking(request), now=now)
        if row is not None:
            messages.success(request, f"{row}, from {local_date(row.valid_from)} on.")
            return redirect(home(person))
    page = FormPage(heading=f"Authorise {person.name}", act="Authorise", path=path_to(person), lead=GIVEN)
    return page.show(request, form)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw what a row authorises its person for."""
    row = get_object_or_404(Authorisation.objects.select_related("person", "family"), pk=pk)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        held: dict[str, Any] = {
            "person": row.person,
            "activity": Activity(row.activity),
            "family": row.family,
        }
        reason = form.cleaned_data["reason"]
        attempt(form, withdraw_authorisation, **held, reason=reason, by=asking(request), now=timezone.now())
        if not form.errors:
            messages.success(request, f"From now on {row.person.name} may no longer {_what(row)}.")
            return redirect(home(row.person))
    heading = f"Withdraw: {row.person.name} may {_what(row)}"
    page = FormPage(heading=heading, act="Withdraw", path=path_to(row.person), lead=WITHDRAWS, stops=True)
    return page.show(request, form)


def _what(row: Authorisation) -> str:
    return f"{row.get_activity_display()} ({row.family.name.lower()})"


GIVEN = (
    "Given to a person, for one activity and one family, on evidence. "
    "A new one takes the place of the one before, which stays on record."
)
WITHDRAWS = (
    "Readings taken from now on block the handing-in of their session. "
    "What was done before stands, and the withdrawal stays on record."
)
