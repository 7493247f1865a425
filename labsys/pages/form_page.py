"""The page that holds one form: what it is called, where it leads back to, 422 where it is to be mended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

Step = tuple[str, str]
"""A place on the way to a page: its title and its address."""


@dataclass(frozen=True)
class FormPage:
    """A page around one form. ``act`` is what its button says, ``path`` the way to it; Cancel leads to its end.

    ``stops`` marks an act that ends something. ``template`` extends ``labsys/form_page.html`` where more is needed.
    """

    heading: str
    act: str
    path: Sequence[Step]
    lead: str = ""
    stops: bool = False
    template: str = "labsys/form_page.html"

    def show(self, request: HttpRequest, form: BaseForm, **more: Any) -> HttpResponse:
        """Answer with the form: 422 where it was sent and is to be mended."""
        back = self.path[-1][1]
        context = {**vars(self), "form": form, "back": back, **more}
        refused = form.is_bound and bool(form.errors)
        return render(request, self.template, context, status=422 if refused else 200)
