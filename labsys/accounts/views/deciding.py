"""What is decided about one person: corrections, roles, closing, ways in, the second factor, sign-ins."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from labsys.accounts import operations
from labsys.accounts.access import MANAGE_PEOPLE
from labsys.accounts.forms import PersonForm, ReasonForm, RolesForm, WayInForm
from labsys.accounts.views.frame import asking, home, path_to, person_or_404
from labsys.journal.roles import Role
from labsys.pages.form_page import FormPage
from labsys.pages.refusals import attempt


@dataclass(frozen=True)
class _Ask:
    """A page that asks for a reason and then does one act on a person."""

    heading: str
    act: str
    done: str
    lead: str = ""
    stops: bool = False


def _ask(request: HttpRequest, pk: int, operation: Callable[..., Any], words: _Ask) -> HttpResponse:
    found = person_or_404(pk)
    form = ReasonForm(request.POST or None)
    if form.is_valid() and _do(request, form, operation, person=found, reason=form.cleaned_data["reason"]):
        messages.success(request, words.done.format(name=found.name))
        return redirect(home(found))
    heading = words.heading.format(name=found.name)
    page = FormPage(heading=heading, act=words.act, path=path_to(found), lead=words.lead, stops=words.stops)
    return page.show(request, form)


def _do(request: HttpRequest, form: forms.Form, operation: Callable[..., Any], **given: Any) -> bool:
    attempt(form, operation, **given, by=asking(request), now=timezone.now())
    return not form.errors


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct what is written about a person."""
    found = person_or_404(pk)
    initial = {"name": found.name, "email": found.email, "department": found.department}
    form = PersonForm(request.POST or None, initial=initial)
    if form.is_valid():
        given = {"person": found, "data": form.data_given(), "reason": form.cleaned_data["reason"]}
        if _do(request, form, operations.change_person, **given):
            messages.success(request, "It is corrected. Records made before keep the name of their time.")
            return redirect(home(found))
    page = FormPage(heading=f"Correct {found.name}", act="Correct", path=path_to(found))
    return page.show(request, form)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def roles(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a person other roles."""
    found = person_or_404(pk)
    held = [group.name for group in found.groups.all()]
    form = RolesForm(request.POST or None, initial={"roles": held})
    if form.is_valid():
        wanted: tuple[Role, ...] = tuple(form.cleaned_data["roles"])
        if _do(
            request,
            form,
            operations.set_roles,
            person=found,
            roles=wanted,
            reason=form.cleaned_data["reason"],
        ):
            messages.success(request, f"{found.name} has other roles from now on.")
            return redirect(home(found))
    page = FormPage(heading=f"Roles of {found.name}", act="Set the roles", path=path_to(found))
    return page.show(request, form)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def close(request: HttpRequest, pk: int) -> HttpResponse:
    """Close an account."""
    words = _Ask(
        "Close the account of {name}",
        "Close the account",
        "The account of {name} is closed.",
        "Authorisations are withdrawn, tokens revoked and sign-ins ended at once. What was done stays in every record.",
        stops=True,
    )
    return _ask(request, pk, operations.deactivate, words)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    """Open a closed account again."""
    words = _Ask(
        "Open the account of {name} again",
        "Open the account",
        "The account of {name} is open again. Make a way in; authorisations are given anew.",
    )
    return _ask(request, pk, operations.reactivate, words)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def second_factor(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the second factor off for somebody who lost it."""
    words = _Ask(
        "Take off the second factor of {name}",
        "Take it off",
        "{name} signs in with the password alone now. Ask them to set a second factor up again.",
        "Only after you have seen the person: whoever asks by phone or mail may be somebody else.",
        stops=True,
    )
    return _ask(request, pk, operations.take_off_second_factor, words)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def sign_ins(request: HttpRequest, pk: int) -> HttpResponse:
    """End every sign-in of a person: a tablet is lost."""
    words = _Ask(
        "End every sign-in of {name}",
        "End them",
        "{name} is signed out everywhere.",
        "On all devices. Readings that still wait on a tablet stay there, and are sent all the same.",
        stops=True,
    )
    return _ask(request, pk, operations.end_sign_ins, words)


@login_required
@permission_required(MANAGE_PEOPLE, raise_exception=True)
@require_http_methods(["GET", "POST"])
@never_cache
def way_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a way in and show it, this once."""
    found = person_or_404(pk)
    fresh = not found.has_usable_password()
    form = WayInForm(request.POST or None, initial={"reason": "first password" if fresh else ""})
    if form.is_valid():
        given = {**form.cleaned_data, "person": found}
        made = attempt(form, operations.offer_way_in, **given, by=asking(request), now=timezone.now())
        if made is not None:
            address = request.build_absolute_uri(_address(made))
            return render(request, "labsys/accounts/way_in.html", {"person": found, "address": address})
    page = FormPage(heading=f"A way in for {found.name}", act="Make it", path=path_to(found), lead=OPENS)
    return page.show(request, form)


def _address(made: operations.WayIn) -> str:
    return reverse("account_reset_password_from_key", kwargs={"uidb36": made.uid, "key": made.token})


OPENS = (
    "An address that opens once, within a day, and lets the person set a password of their own. "
    "Nobody else ever knows it."
)
