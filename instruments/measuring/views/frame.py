"""What the bench's pages share: the session an address names, who may be here, the page with one form."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from instruments.inventory.views.frame import person
from instruments.measuring.models import Session
from instruments.measuring.queries import sessions

__all__ = ["by_htmx", "form_page", "home", "person", "session_or_404", "takes_readings"]


def session_or_404(pk: int) -> Session:
    """Find the session with what its pages show."""
    rows = sessions().select_related("place", "gauge__model__family", "agreement", "sitting")
    return get_object_or_404(rows, pk=pk)


def takes_readings(session: Session) -> bool:
    """Say whether anything may be added to the session."""
    return session.state in (Session.State.OPEN, Session.State.RETURNED)


def by_htmx(request: HttpRequest) -> bool:
    """Say whether a script asks, which replaces parts of the page it has."""
    return bool(getattr(request, "htmx", False))


def home(session: Session, query: str = "") -> str:
    """Give the address of the session at the bench."""
    address = reverse("bench-session", args=[session.pk])
    return f"{address}?{query}" if query else address


def form_page(
    request: HttpRequest, form: forms.Form, *, session: Session, heading: str, act: str, **more: Any
) -> HttpResponse:
    """Show a page of the session that holds one form: 422 where it was sent and is to be mended."""
    template = more.pop("template", "instruments/measuring/bench/form.html")
    context = {
        "form": form,
        "session": session,
        "heading": heading,
        "act": act,
        "back": home(session),
        **more,
    }
    return render(request, template, context, status=422 if form.is_bound and form.errors else 200)
