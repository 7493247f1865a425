"""Refusals as people see them: beside the field, on top of the form, or as a page of their own."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from labsys.errors import LabError

log = logging.getLogger(__name__)

P = ParamSpec("P")
R = TypeVar("R")


def attempt(form: BaseForm, act: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R | None:
    """Do the act for a valid form; where it is refused, put the sentence into the form and give None.

    What the tables refuse (ValidationError) goes beside the field it names, or on top where the form has none of it.
    A missing permission isn't the form's matter and passes on.
    """
    try:
        return act(*args, **kwargs)
    except LabError as error:
        if isinstance(error, PermissionError):
            raise
        attach(form, error)
    except ValidationError as error:
        named = error.message_dict if hasattr(error, "error_dict") else {"": error.messages}
        for name, sentences in named.items():
            for sentence in sentences:
                form.add_error(name if name in form.fields else None, sentence)
    return None


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
