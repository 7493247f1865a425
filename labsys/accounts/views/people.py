"""The list of people, one person's page, and registering somebody."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET, require_http_methods

from labsys.accounts import queries
from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.filters import SOON_DAYS, PeopleFilter
from labsys.accounts.forms import RegisterForm
from labsys.accounts.models import Authorisation, Person
from labsys.accounts.operations import register_person
from labsys.accounts.views.frame import asking, home, path_to_people, person_or_404
from labsys.journal.access import READ_JOURNAL, READ_RECORDS
from labsys.journal.queries import about
from labsys.journal.words import act_words
from labsys.laboratory.as_of import as_of
from labsys.laboratory.queries import local_date
from labsys.pages import figures, keyset
from labsys.pages.form_page import FormPage
from labsys.pages.refusals import attempt
from labsys.pages.tables import Column, Row, Table, capped_count, order_from

COLUMNS = (
    Column("name", "Name", sort=("name", "pk"), row_head=True),
    Column("username", "User name", sort=("username", "pk"), nowrap=True),
    Column("roles", "Roles"),
    Column("department", "Department"),
    Column("holds", "Authorisations"),
    Column("lapses", "Next lapse", nowrap=True),
    Column("account", "Account"),
)
ENTRIES = 20


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def people(request: HttpRequest) -> HttpResponse:
    """List the people the address asks for."""
    filters = PeopleFilter(request.GET, queryset=queries.people())
    found = filters.qs if filters.is_valid() else queries.people().none()
    order = order_from(request, COLUMNS, default="name")
    page = keyset.page(found, order=order.fields(COLUMNS), token=request.GET.get("page", ""))
    context = {
        "filters": filters,
        "table": Table("People", COLUMNS, _rows(page.rows), order),
        "page": page,
        "count": capped_count(found),
    }
    return render(request, "labsys/accounts/people.html", context)


def _rows(found: Sequence[Person]) -> list[Row]:
    now = timezone.now()
    held: dict[int, list[Authorisation]] = defaultdict(list)
    for row in queries.authorisations_in_force(now).filter(person__in=[one.pk for one in found]):
        held[row.person_id].append(row)
    soon = local_date(now) + timedelta(days=SOON_DAYS)
    return [Row(one.pk, _cells(one, held[one.pk], soon), one.name) for one in found]


def _cells(person: Person, held: list[Authorisation], soon: date) -> dict[str, Any]:
    families = sorted({row.family.name.lower() for row in held})
    lapses = min((row.lapses_on for row in held if row.lapses_on), default=None)
    flag = ' <span class="flag">soon</span>' if lapses and lapses <= soon else ""
    return {
        "name": format_html('<a href="{}">{}</a>', home(person), person.name),
        "username": person.username,
        "roles": ", ".join(sorted(group.name for group in person.groups.all())) or "none",
        "department": person.department.name if person.department else "",
        "holds": ", ".join(families) if families else "",
        "lapses": format_html("{}" + flag, figures.on(lapses)) if lapses else "",
        "account": "open" if person.is_active else "closed",
    }


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a person: roles, what they were authorised for now or on the day ``on`` names, what is on record."""
    found, now = person_or_404(pk), timezone.now()
    shown_of = as_of(request, now)
    context: dict[str, Any] = {
        "person": found,
        "roles": sorted(group.name for group in found.groups.all()),
        "as_of": shown_of,
        "held": queries.authorisations_in_force(shown_of.at).filter(person=found),
        "soon": local_date(shown_of.at) + timedelta(days=SOON_DAYS),
        "history": queries.history_of(found),
    }
    if asking(request).may(MANAGE_PEOPLE):
        context |= {
            "second_factor": queries.has_second_factor(found),
            "sign_ins": queries.sign_ins_of(found).count(),
            "tokens": queries.tokens_of(found),
        }
    if asking(request).may(READ_JOURNAL):
        context["entries"] = [(entry, act_words(entry.act)) for entry in about(f"person:{pk}")[:ENTRIES]]
    return render(request, "labsys/accounts/person.html", context)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def register(request: HttpRequest) -> HttpResponse:
    """Register somebody; they set their password themselves."""
    form = RegisterForm(request.POST or None)
    if form.is_valid():
        given = {**form.cleaned_data, "roles": tuple(form.cleaned_data["roles"])}
        made = attempt(form, register_person, **given, password=None, by=asking(request), now=timezone.now())
        if made is not None:
            messages.success(
                request, f"{made.name} has an account. Give them a way in to set their password."
            )
            return redirect("person-way-in", made.pk)
    page = FormPage(heading="Register a person", act="Register", path=path_to_people(), lead=LEAD)
    return page.show(request, form)


LEAD = (
    "Everyone has an account of their own. A role says what a person is for; "
    "what they may measure and sign is an authorisation, given next."
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def roles(request: HttpRequest) -> HttpResponse:
    """Show which role may do what, as the database has it."""
    return render(request, "labsys/accounts/roles.html", {"table": queries.role_table()})
