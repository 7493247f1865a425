"""What was typed at the bench arrives here: kept as an envelope, judged, and answered with what the page shows next."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect, replace_url, trigger_client_event

from instruments.measuring.access import MEASURE
from instruments.measuring.composing import compose
from instruments.measuring.models import (
    Arrival,
    Check,
    Condition,
    Reading,
    Session,
    SetAside,
    Strike,
    ZeroCheck,
)
from instruments.measuring.operations import resolve_set_aside, take
from instruments.measuring.operations.gate import SessionNotOpen
from instruments.measuring.operations.settling import Settled
from instruments.measuring.queries import under_way
from instruments.measuring.queries.sittings import table_of
from instruments.measuring.showing import steps
from instruments.measuring.showing.labels import Scan, scanned
from instruments.measuring.showing.page import Page, at, shown
from instruments.measuring.showing.sittings import Lead, lead_from
from instruments.measuring.showing.steps import Step
from instruments.measuring.views.frame import by_htmx, home, person, session_or_404, takes_readings
from instruments.measuring.views.session import context_of, number, seated, waited_for

READ = (Arrival.Kind.READING, Arrival.Kind.ZERO)


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_POST
def send(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one thing that was typed: nothing that arrives is lost, whatever becomes of it."""
    found = session_or_404(pk)
    if request.POST.get("kind") in READ:
        scan = scanned(request.POST.get("raw", ""))
        if scan is not None:
            return _scan(request, found, scan)
    now = timezone.now()
    envelope = compose(request.POST, found, now)
    outcome = take(envelope=envelope, by=person(request), now=now)
    return _event(_answer(request, found, outcome), "kept", id=envelope.client_id)


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_POST
def resolve(request: HttpRequest, pk: int) -> HttpResponse:
    """Answer for something set aside, by one tap."""
    row = get_object_or_404(SetAside.objects.select_related("arrival"), pk=pk)
    found = session_or_404(row.arrival.session_id)
    said = request.POST.get("resolution", "").strip()[:200]
    resolve_set_aside(set_aside=row, resolution=said, by=person(request), now=timezone.now())
    return _page(
        request, found, step=request.POST.get("step", ""), point=number(request.POST.get("point", ""))
    )


def _scan(request: HttpRequest, found: Session, scan: Scan) -> HttpResponse:
    """Say whose label was scanned; the label of another gauge under way leads to it."""
    other = None if scan.tag is None or scan.gauge_id is None else under_way(scan.tag.gauge)
    if other is not None and other.pk != found.pk:
        messages.info(request, f"{scan.sentence} This is its session.")
        return _go(request, home(other))
    point, step = number(request.POST.get("point", "")), _zero_step(request.POST.get("zero", ""))
    if not by_htmx(request):
        messages.warning(request, scan.sentence)
    response = _page(request, found, step=step, point=point, scanned=scan)
    return _announced(
        _event(response, "reading-stored", raw=request.POST.get("raw", "")), request, scan.sentence
    )


def _answer(request: HttpRequest, found: Session, outcome: Settled | SetAside) -> HttpResponse:
    closed = isinstance(outcome, SetAside) and outcome.code == SessionNotOpen.code
    if closed or not takes_readings(found):
        messages.error(
            request, str(getattr(outcome, "sentence", "")) or "The session takes no more readings."
        )
        return _go(request, reverse("session", args=[found.pk]))
    step, point = _where(request, outcome)
    page = shown(found, step=step, point=point)
    lead = _lead(page, outcome)
    if lead is not None and lead.seat.session.pk != found.pk:
        other = home(lead.seat.session, lead.query)
        return _event(_go(request, other), "reading-stored", raw=request.POST.get("raw", ""))
    if isinstance(outcome, Condition) and page.warnings:
        page = at(page.bench, step=Step.ROOM.value)  # what lies outside is said before anything is read in it
    elif isinstance(outcome, Condition):
        page = waited_for(page, timezone.now())
    if lead is not None:
        page = at(page.bench, point=number(lead.query.removeprefix("point=")))
    elif isinstance(outcome, Reading) and page.target and page.target.point and _is_enough(page):
        page = at(page.bench)
    if isinstance(outcome, Condition):
        return _go(request, home(found, _query(page)))
    response = _respond(request, page)
    if isinstance(outcome, SetAside):
        return _announced(response, request, outcome.sentence)
    if isinstance(outcome, Reading | ZeroCheck):
        response = _event(response, "reading-stored", raw=request.POST.get("raw", ""))
    return _announced(response, request, _said(page, outcome))


def _lead(page: Page, outcome: Settled | SetAside) -> Lead | None:
    """Find where a sitting goes on, once the gauge here has what the point or its zero asks for.

    None for a session that was opened by itself, and while the gauge here wants something else first.
    """
    sitting = page.session.sitting
    if sitting is None or not isinstance(outcome, Reading | ZeroCheck):
        return None
    here = outcome.point_id if isinstance(outcome, Reading) else None
    if here is not None and not (page.target and page.target.point and _is_enough(page)):
        return None
    if here is None and page.step not in (Step.POINTS, Step.HAND_IN):
        return None
    table = table_of(sitting)
    seat = table.seat_of(page.session.pk)
    return lead_from(table, seat, here) if seat else None


def _is_enough(page: Page) -> bool:
    """Say whether the point asks for nothing more, so that the page goes on."""
    assert page.target is not None and page.target.point is not None
    return steps.lacking(page.target.point, page.bench) == 0


def _where(request: HttpRequest, outcome: Settled | SetAside) -> tuple[str, int | None]:
    """Say which step or point the page stays at: that of a reading, or where something else was typed."""
    point = number(request.POST.get("point", "") or request.POST.get("at_point", ""))
    if isinstance(outcome, ZeroCheck):
        return "", None
    if isinstance(outcome, Check):
        return Step.LOOKS.value, None
    if isinstance(outcome, Strike):
        return "", outcome.reading.point_id
    if isinstance(outcome, SetAside):
        return _step_of(request, outcome), point
    return "", point


def _step_of(request: HttpRequest, row: SetAside) -> str:
    kind = row.arrival.kind
    if kind == Arrival.Kind.ZERO:
        return _zero_step(request.POST.get("zero", ""))
    return {Arrival.Kind.ANSWER.value: Step.LOOKS.value, Arrival.Kind.CONDITION.value: Step.ROOM.value}.get(
        kind, ""
    )


def _zero_step(kind: str) -> str:
    found = {"as-found": Step.ZERO_FOUND, "set": Step.ZERO_SET, "closing": Step.CLOSING}.get(kind)
    return found.value if found else ""


def _page(
    request: HttpRequest, found: Session, *, step: str, point: int | None, scanned: Scan | None = None
) -> HttpResponse:
    return _respond(request, shown(found, step=step, point=point), scanned)


def _respond(request: HttpRequest, page: Page, scanned: Scan | None = None) -> HttpResponse:
    """Answer with the parts of the page that changed, or send the browser to it."""
    address = home(page.session, _query(page))
    if not by_htmx(request):
        return redirect(address)
    if page.step is Step.LOOKS:
        context = context_of(page) | seated(request, page)
        return render(request, "instruments/measuring/bench/looks_answer.html", context)
    if page.target is None:
        return HttpResponseClientRedirect(address)
    context = context_of(page) | seated(request, page) | {"scanned": scanned, "oob": True}
    return replace_url(render(request, "instruments/measuring/bench/parts.html", context), address)


def _query(page: Page) -> str:
    """Name the point or step in the address, so that a page loaded again is the same page."""
    if page.target is not None and page.target.point is not None:
        return f"point={page.target.point.point.pk}"
    return f"step={page.step.value}"


def _go(request: HttpRequest, address: str) -> HttpResponse:
    return HttpResponseClientRedirect(address) if by_htmx(request) else redirect(address)


def _event(response: HttpResponse, name: str, **detail: str) -> HttpResponse:
    return trigger_client_event(response, name, detail)


def _announced(response: HttpResponse, request: HttpRequest, sentence: str) -> HttpResponse:
    """Let the page say politely what happened."""
    return trigger_client_event(response, "announce", {"value": sentence}) if by_htmx(request) else response


def _said(page: Page, outcome: Settled) -> str:
    """Say what was stored, and what comes next."""
    what = {Reading: "Reading stored", ZeroCheck: "Zero stored", Strike: "Struck", Check: "Answer stored"}
    stored = what.get(type(outcome), "Stored")
    said = page.target.said.sentence if page.target and page.target.said else ""
    here = page.target.heading if page.target else steps.LABELS[page.step]
    return f"{stored}. {said or f'Now: {here}.'}"
