"""Changing the plan of points: what it leaves open, a point more, one left out, other references for one."""

from __future__ import annotations

from collections.abc import Sequence

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from instruments.measuring.access import MEASURE
from instruments.measuring.forms import AddPointForm, FunctionForm, OtherReferencesForm, SkipForm
from instruments.measuring.models import Point, Session
from instruments.measuring.operations import add_point, plan_missing, retake_point, void_point
from instruments.measuring.queries import bench_of, current_run
from instruments.measuring.showing import words
from instruments.measuring.showing.covered import covered, rules_left_open
from instruments.measuring.showing.targets import at_point
from instruments.measuring.views.frame import form_page, home, person, session_or_404, takes_readings
from instruments.procedures.content import PLACES, Content
from instruments.procedures.queries import content_of
from labsys.errors import LabError
from labsys.metrology.plan import SPREAD_FUNCTION
from labsys.pages.refusals import attempt
from standards.register.queries import Available, available


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_GET
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the points of the run under way, what they leave open, and what can be changed."""
    found = session_or_404(pk)
    if not takes_readings(found):
        return redirect("session", pk)
    bench = bench_of(found)
    context = {
        "session": found,
        "covered": covered(bench, None),
        "open_rules": rules_left_open(bench, planned=True),
        "targets": [at_point(bench, one) for one in bench.points],
        "void": bench.void_points,
        "form": FunctionForm(functions=_addable(found)),
    }
    return render(request, "instruments/measuring/bench/plan.html", context)


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a point of one function, compared with what may be used now."""
    found, now = session_or_404(pk), timezone.now()
    function = request.GET.get("function", "")
    named = dict(_addable(found))
    if function not in named:
        return redirect("bench-plan", pk)
    content = content_of(found.revision)
    offered = available(content.serving(function), now)
    form = AddPointForm(request.POST or None, places=_places(content, function), offered=offered)
    if form.is_valid():
        made = attempt(
            form,
            add_point,
            run=current_run(found),
            function=function,
            place=form.cleaned_data.get("place", ""),
            elements=form.chosen,
            by=person(request),
            now=now,
        )
        if made is not None:
            return redirect(home(found, f"point={made.pk}"))
    return _references_page(
        request,
        form,
        found,
        offered,
        heading=f"Add a point: {named[function]}",
        act="Add",
    )


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_POST
def missing(request: HttpRequest, pk: int) -> HttpResponse:
    """Plan with the standards of now what no point was planned for."""
    found = session_or_404(pk)
    try:
        made = plan_missing(run=current_run(found), by=person(request), now=timezone.now())
    except LabError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"{len(made)} point{'s' if len(made) > 1 else ''} planned.")
    return redirect("bench-plan", pk)


def _addable(found: Session) -> list[tuple[str, str]]:
    """Name what a point can be added to: functions over range and faces, series over lengths read one way."""
    content, functions = content_of(found.revision), tuple(found.gauge.functions)
    faces = functions if content.points is not None else ()
    series = [
        one.code for one in content.series_for(functions) if one.reads == "indication" and not one.directions
    ]
    return [(code, content.name_of(code)) for code in (*faces, *series)]


def _places(content: Content, code: str) -> list[tuple[str, str]]:
    """Give the places of a function or series to choose from."""
    series = content.series_of(code)
    if series is not None:
        return [(place, words.place(place)) for place in series.places]
    spread = content.points is not None and code == SPREAD_FUNCTION
    return [(place, PLACES[place]) for place in content.points.places] if spread and content.points else []


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def references(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a point with other references: it is void and taken again as its next attempt."""
    point, now = _point_or_404(pk), timezone.now()
    found = session_or_404(point.run.session_id)
    offered = available(content_of(found.revision).serving(point.function), now)
    initial = {"elements": [str(row.element_value.element_id) for row in point.references.select_related()]}
    form = OtherReferencesForm(request.POST or None, offered=offered, initial=initial)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        made = attempt(
            form, retake_point, point=point, elements=form.chosen, reason=reason, by=person(request), now=now
        )
        if made is not None:
            return redirect(home(found, f"point={made.pk}"))
    heading = f"Other references for {point}"
    return _references_page(request, form, found, offered, heading=heading, act="Take it with these")


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def skip(request: HttpRequest, pk: int) -> HttpResponse:
    """Leave a point out, with the reason; what it leaves open is said and blocks handing in."""
    point = _point_or_404(pk)
    found = session_or_404(point.run.session_id)
    form = SkipForm(request.POST or None, auto_id="skip_%s")
    if form.is_valid():
        done = attempt(
            form, void_point, point=point, reason=form.reason, by=person(request), now=timezone.now()
        )
        if done is not None:
            messages.success(request, f"{point} is left out: {done.reason}. It stays in the record.")
            return redirect(home(found))
    return form_page(request, form, session=found, heading=f"Leave out {point}", act="Leave it out")


def _point_or_404(pk: int) -> Point:
    return get_object_or_404(Point.objects.select_related("run__session"), pk=pk)


def _references_page(
    request: HttpRequest,
    form: forms.Form,
    found: Session,
    offered: Sequence[Available],
    *,
    heading: str,
    act: str,
) -> HttpResponse:
    return form_page(
        request,
        form,
        session=found,
        heading=heading,
        act=act,
        offered=offered,
        back=reverse("bench-plan", args=[found.pk]),
        template="instruments/measuring/bench/references.html",
    )
