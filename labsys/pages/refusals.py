"""Refusals as people see them: beside the field, on top of the form, or as a page of their own."""

from __future__ import annotations

import logging

from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from labsys.errors import LabError

log = logging.getLogger(__name__)


def attach(form: BaseForm, error: LabError) -> None:
    """Put the refusal's sentence beside the field it names, or on top where the form has no such field.

    The form must have been validated; it is invalid afterwards and keeps what was typed.
    """
    field = error.field if error.field in form.fields else None
    form.add_error(field, str(error))


def page(request: HttpRequest, error: LabError) -> HttpResponse:
    """Answer 409 with the refusal's sentence: a whole page, or for htmx the notice alone, put where notices stand."""
    log.info("refused %s: %s", error.code, error)
    if getattr(request, "htmx", None):
        context = {"level": "error", "sentence": str(error)}
        response = render(request, "labsys/elements/notice.html", context, status=409)
        response["HX-Retarget"] = "#notices"
        response["HX-Reswap"] = "innerHTML show:window:top"
        return response
    return render(request, "labsys/refused.html", {"error": error}, status=409)
