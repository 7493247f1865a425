"""Pages of the acts on a standard: each reads a form, calls one operation, and goes back to the standard."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from labsys.pages import refusals
from standards.register import operations
from standards.register.access import KEEP_STANDARDS, MANAGE_STANDARDS
from standards.register.asking import person_behind
from standards.register.forms import (
    ChangeForm,
    ElementChangeForm,
    ElementForm,
    ReturnForm,
    StandardForm,
    StateForm,
    UseForm,
)
from standards.register.models import Element, ElementState, Standard
from standards.register.queries import state_of


@login_required
@permission_required(MANAGE_STANDARDS, raise_exception=True)
def register(request: HttpRequest) -> HttpResponse:
    """Put a standard on the register."""
    form = StandardForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        act = operations.register_standard
        row = refusals.attempt(
            form, act, data=form.data_given(), by=person_behind(request), now=timezone.now()
        )
        if row is not None:
            return _done(request, row, f"{row.tag} is on the register. Next: receive its certificate.")
    words = {"heading": "Register a standard", "button": "Register"}
    return _form(request, form, None, **words)


@login_required
@permission_required(MANAGE_STANDARDS, raise_exception=True)
def add_element(request: HttpRequest, pk: int) -> HttpResponse:
    """Add an element to a standard."""
    row = _standard(pk)
    form = ElementForm(request.POST or None, quantity=row.quantity)
    return _act(
        request,
        form,
        row,
        lambda: operations.add_element(
            standard=row, data=form.data_given(), by=person_behind(request), now=timezone.now()
        ),
        heading=f"Add an element to {row.tag}",
        button="Add",
        done="The element was added; it has no value until a calibration gives it one.",
    )


@login_required
@permission_required(MANAGE_STANDARDS, raise_exception=True)
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is written about a standard."""
    row = get_object_or_404(Standard.objects.select_related("tag", "place"), pk=pk)
    form = ChangeForm.of(row, request.POST or None)
    return _act(
        request,
        form,
        row,
        lambda: operations.change_standard(
            standard=row,
            data=form.data_given(row),
            reason=form.cleaned_data["reason"],
            by=person_behind(request),
            now=timezone.now(),
        ),
        heading=f"Change what is written about {row.tag}",
        button="Change",
        done="The change was recorded. Due dates given before stand.",
    )


@login_required
@permission_required(MANAGE_STANDARDS, raise_exception=True)
def change_element(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is written about an element."""
    element = get_object_or_404(Element.objects.select_related("standard__tag"), pk=pk)
    form = ElementChangeForm.of(element, request.POST or None)
    return _act(
        request,
        form,
        element.standard,
        lambda: operations.change_element(
            element=element,
            data=form.data_given(),
            reason=form.cleaned_data["reason"],
            by=person_behind(request),
            now=timezone.now(),
        ),
        heading=f"Change what is written about {element.label} of {element.standard.tag}",
        button="Change",
        done="The change was recorded.",
    )


@login_required
@permission_required(KEEP_STANDARDS, raise_exception=True)
def change_state(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a standard out of service, send it away, scrap it."""
    row = _standard(pk)
    form = StateForm(request.POST or None, state_now=state_of(row, timezone.now()))
    return _act(
        request,
        form,
        row,
        lambda: operations.change_state(
            standard=row, by=person_behind(request), now=timezone.now(), **form.cleaned_data
        ),
        heading=f"Change the state of {row.tag}",
        button="Change",
        done="The state was changed.",
    )


@login_required
@permission_required(KEEP_STANDARDS, raise_exception=True)
def return_to_service(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a standard back into service after a verification."""
    row = _standard(pk)
    form = ReturnForm(request.POST or None)
    return _act(
        request,
        form,
        row,
        lambda: operations.return_to_service(
            standard=row, by=person_behind(request), now=timezone.now(), **form.cleaned_data
        ),
        heading=f"Return {row.tag} to service",
        button="Return to service",
        done=f"{row.tag} is in service again.",
    )


@login_required
@permission_required(KEEP_STANDARDS, raise_exception=True)
def change_use(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an element out of use, or back."""
    element = get_object_or_404(Element.objects.select_related("standard__tag"), pk=pk)
    state: ElementState | None = element.states.in_force(timezone.now())
    is_in_use = state is None or state.in_use
    act = operations.withdraw_element if is_in_use else operations.restore_element
    form = UseForm(request.POST or None)
    name = f"{element.label} of {element.standard.tag}"
    return _act(
        request,
        form,
        element.standard,
        lambda: act(element=element, by=person_behind(request), now=timezone.now(), **form.cleaned_data),
        heading=f"Take {name} {'out of use' if is_in_use else 'back into use'}",
        button="Take out of use" if is_in_use else "Take back into use",
        done=f"{name} {'is out of use; its values stay on record' if is_in_use else 'is in use again'}.",
    )


def _act(
    request: HttpRequest, form: Form, row: Standard, act: Callable[[], object], *, done: str, **words: str
) -> HttpResponse:
    """Do the act for a form that was sent and is valid; otherwise show the form with what is to be mended."""
    if request.method == "POST" and form.is_valid() and refusals.attempt(form, act) is not None:
        return _done(request, row, done)
    return _form(request, form, row, **words)


def _form(request: HttpRequest, form: Form, row: Standard | None, **words: Any) -> HttpResponse:
    status = 422 if form.is_bound else 200
    context = {"form": form, "standard": row, **words}
    return render(request, "standards/register/form.html", context, status=status)


def _done(request: HttpRequest, row: Standard, sentence: str) -> HttpResponse:
    messages.success(request, sentence)
    return redirect("standard", pk=row.pk)


def _standard(pk: int) -> Standard:
    return get_object_or_404(Standard.objects.select_related("tag"), pk=pk)
