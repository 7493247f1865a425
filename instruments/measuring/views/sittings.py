"""Pages of a sitting: several gauges of one kind chosen, their set-ups in turn, the room noted for all of them."""

from __future__ import annotations

from datetime import datetime
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from instruments.measuring.access import MEASURE
from instruments.measuring.composing import compose, fresh_id
from instruments.measuring.envelope import Envelope, is_id
from instruments.measuring.forms import SittingForm
from instruments.measuring.models import Arrival, Run, Sitting
from instruments.measuring.operations import deposit_all, sit_down
from instruments.measuring.queries import InHand, became, in_hand, under_way
from instruments.measuring.queries.sittings import conditions_of, open_runs, table_of
from instruments.measuring.showing.labels import looked_for
from instruments.measuring.showing.looks import sensors
from instruments.measuring.showing.sittings import lead_in, set_up_lines
from instruments.measuring.views.bench import Gauging
from instruments.measuring.views.frame import person
from labsys.pages.refusals import attempt


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_http_methods(["GET", "POST"])
def sit_down_page(request: HttpRequest) -> HttpResponse:
    """Choose the gauges of a sitting, by their lines or by scanning them, and open a session for each."""
    now = timezone.now()
    free = [one for one in in_hand(now) if not one.is_waiting and not one.is_released]
    chosen = {int(pk) for pk in request.POST.getlist("gauges") if pk.isascii() and pk.isdigit()}
    adds = request.method == "POST" and request.POST.get("act") != "sit"
    form = SittingForm(request.POST if request.POST.get("act") == "sit" else None, offered=free)
    if adds:
        chosen |= _scanned(request, free)
    if form.is_valid():
        made = attempt(
            form,
            sit_down,
            gauges=form.chosen,
            place=form.cleaned_data["place"],
            by=person(request),
            now=now,
        )
        if made is not None:
            for sentence in made.refusals:
                messages.warning(request, sentence)
            return redirect("bench-sitting", made.sitting.pk)
    context = {"form": form, "chosen": chosen, "groups": _groups(free, now)}
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "instruments/measuring/bench/sitting_down.html", context, status=status)


def _groups(free: list[InHand], now: datetime) -> list[tuple[str, list[Gauging]]]:
    """Give what can be chosen by family, and within one by model and tag."""
    ordered = sorted(
        free, key=lambda one: (one.gauge.model.family.name, str(one.gauge.model), one.gauge.tag.text)
    )
    by_family = groupby(ordered, key=lambda one: one.gauge.model.family.name)
    return [(name, [Gauging(one, one.minutes_left(now)) for one in items]) for name, items in by_family]


def _scanned(request: HttpRequest, free: list[InHand]) -> set[int]:
    """Find the gauge that was scanned or typed among those that can be chosen; otherwise say why it can't."""
    text = request.POST.get("label", "").strip()
    tag = looked_for(text) if text else None
    gauge = getattr(tag, "gauge", None)
    if gauge is not None and any(one.gauge.pk == gauge.pk for one in free):
        messages.success(request, f"{tag} is chosen.")
        return {gauge.pk}
    if not text:
        said = "Type a tag, or scan a label."
    elif gauge is None:
        said = (
            f"No gauge carries the tag or label “{text[:60]}”. Look at the tag, or register the gauge first."
        )
    elif (session := under_way(gauge)) is not None:
        said = f"{tag} has session {session.pk} under way already. Go on with that one, or void it first."
    else:
        said = f"{tag} is not received, or it waits for something. Look at its page."
    messages.error(request, said)
    return set()


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_GET
def sitting(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how far each gauge of a sitting is, and the set-ups with the gauges in turn."""
    found = get_object_or_404(Sitting.objects.select_related("by", "place"), pk=pk)
    table = table_of(found)
    runs = [seat.run for seat in table.seats if seat.is_open]
    context: dict[str, Any] = {
        "table": table,
        "lead": lead_in(table),
        "lines": set_up_lines(table),
        "runs": runs,
        "noted": conditions_of(found).first(),
        "sensors": sensors(timezone.now()) if runs else (),
        "client_id": fresh_id(),
    }
    return render(request, "instruments/measuring/bench/sitting.html", context)


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_POST
def room(request: HttpRequest, pk: int) -> HttpResponse:
    """Note the room in every session of a sitting that takes readings: an entry of its own in each."""
    found, now = get_object_or_404(Sitting, pk=pk), timezone.now()
    envelopes = [_note(request, run, now) for run in open_runs(found)]
    arrivals = deposit_all(envelopes=envelopes, by=person(request), now=now)
    refused = [one["sentence"] for one in became(arrivals) if one["became"] == "set aside"]
    for sentence in dict.fromkeys(refused):
        messages.error(request, f"{sentence} Noted again here, it answers for what was set aside.")
    if taken := len(arrivals) - len(refused):
        messages.success(request, f"The room is noted in {taken} session{'s' if taken > 1 else ''}.")
    elif not arrivals:
        messages.error(request, "No session of this sitting takes readings any more.")
    return redirect(f"{reverse('bench-sitting', args=[pk])}{'#room' if refused else ''}")


def _note(request: HttpRequest, run: Run, now: datetime) -> Envelope:
    """Make the envelope of one session, with an id of its own, so that a double send is one note in each."""
    given = request.POST.get("client_id", "")
    fields = request.POST.copy()
    fields.pop("envelope", None)
    fields["kind"], fields["run"] = Arrival.Kind.CONDITION, str(run.pk)
    own = f"{given}-{run.pk}"
    fields["client_id"] = own if is_id(own) else fresh_id()
    return compose(fields, run.session, now)
