"""What the pages of procedures share: who asks, the rows an address names, the page with one form."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from instruments.procedures.models import Procedure, Revision
from instruments.procedures.queries import revisions
from labsys.accounts.models import Person


def person(request: HttpRequest) -> Person:
    """Give the person behind a request that passed the sign-in."""
    return cast(Person, request.user)


def procedure_or_404(pk: int) -> Procedure:
    """Find the procedure an address names."""
    return get_object_or_404(Procedure.objects.select_related("family"), pk=pk)


def revision_or_404(pk: int) -> Revision:
    """Find the revision an address names, with its procedure and signature."""
    return get_object_or_404(revisions(), pk=pk)


def home(revision: Revision, part: str = "") -> str:
    """Give the address of a revision's page, at one of its parts."""
    return reverse("revision", args=[revision.pk]) + (f"#{part}" if part else "")


def form_page(request: HttpRequest, form: forms.Form, **context: Any) -> HttpResponse:
    """Show a page that holds one form: 422 where it was sent and is to be mended."""
    template = context.pop("template", "instruments/procedures/form.html")
    status = 422 if form.is_bound and form.errors else 200
    return render(request, template, {"form": form, **context}, status=status)
