"""Everybody's own account: settings, tokens for programs; and what to do when the password is forgotten."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from labsys.accounts.forms import SettingsForm, TokenForm
from labsys.accounts.models import ApiToken
from labsys.accounts.operations import change_settings, issue_token, revoke_token
from labsys.accounts.queries import authorisations_in_force, has_second_factor, tokens_of
from labsys.accounts.views.frame import asking, home
from labsys.pages.refusals import attempt


@login_required
@require_GET
def account(request: HttpRequest) -> HttpResponse:
    """Show one's own account."""
    return _page(request)


def _page(request: HttpRequest, *, status: int = 200, **forms: Any) -> HttpResponse:
    person = asking(request)
    context = {
        "settings_form": SettingsForm(initial={"hand": person.hand, "email": person.email}),
        "token_form": TokenForm(),
        "tokens": tokens_of(person),
        "roles": sorted(group.name for group in person.groups.all()),
        "held": authorisations_in_force(timezone.now()).filter(person=person),
        "second_factor": has_second_factor(person),
        **forms,
    }
    return render(request, "labsys/accounts/account.html", context, status=status)


@login_required
@require_POST
def settings(request: HttpRequest) -> HttpResponse:
    """Change one's own settings."""
    form = SettingsForm(request.POST)
    if form.is_valid():
        done = attempt(form, change_settings, **form.cleaned_data, by=asking(request), now=timezone.now())
        if done is not None:
            messages.success(request, "Your settings are stored.")
            return redirect("account")
    return _page(request, status=422, settings_form=form)


@login_required
@require_POST
@never_cache
def token_issue(request: HttpRequest) -> HttpResponse:
    """Make a token and show it, this once."""
    form = TokenForm(request.POST)
    if form.is_valid():
        made = attempt(form, issue_token, **form.cleaned_data, by=asking(request), now=timezone.now())
        if made is not None:
            row, text = made
            return render(request, "labsys/accounts/token.html", {"token": row, "text": text})
    return _page(request, status=422, token_form=form)


@login_required
@require_POST
def token_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """Revoke a token: one's own, or as somebody who manages people."""
    token = get_object_or_404(ApiToken.objects.select_related("person"), pk=pk)
    revoke_token(token=token, by=asking(request), now=timezone.now())
    messages.success(request, f"The token “{token.name}” opens nothing any more.")
    return redirect("account" if token.person_id == request.user.pk else home(token.person))


@require_GET
def forgotten(request: HttpRequest) -> HttpResponse:
    """Say whom to ask for a way in; none goes out by mail."""
    return render(request, "account/password_reset.html")


@login_required
@require_GET
def own_mail(request: HttpRequest) -> HttpResponse:
    """Lead to the one place where a mail address is kept."""
    return redirect("account")
