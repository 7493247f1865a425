"""The page of messages: which a person must decide about, which wait, and what went out last."""

from __future__ import annotations

from typing import cast

from django.contrib import messages as flash
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from labsys.accounts.models import Person
from labsys.jobs import operations
from labsys.jobs.access import MANAGE_MESSAGES
from labsys.jobs.forms import ArrivedForm
from labsys.jobs.models import Notice
from labsys.jobs.queries import last_success, stuck, undecided
from labsys.pages.refusals import attempt

MOST = 100


@login_required
@permission_required(MANAGE_MESSAGES, raise_exception=True)
@require_GET
def messages(request: HttpRequest) -> HttpResponse:
    """Show the messages to decide about, those that wait, and the last ones sent."""
    sent = Notice.objects.filter(state=Notice.State.SENT).order_by("-sent_at", "-pk")
    run = last_success("send-notices")
    context = {
        "undecided": undecided()[:MOST],
        "stuck": stuck(timezone.now())[:MOST],
        "sent": sent[:MOST],
        "last_run_at": run.finished_at if run else None,
    }
    return render(request, "labsys/jobs/messages.html", context)


@login_required
@permission_required(MANAGE_MESSAGES, raise_exception=True)
@require_POST
def resend(request: HttpRequest, pk: int) -> HttpResponse:
    """Send a message again, on this person's word."""
    notice = get_object_or_404(Notice, pk=pk)
    operations.resend(notice=notice, by=cast(Person, request.user), now=timezone.now())
    flash.success(request, f"“{notice.title}” is sent to {notice.address} again within a minute.")
    return redirect("messages")


@login_required
@permission_required(MANAGE_MESSAGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def arrived(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that a message arrived all the same."""
    notice = get_object_or_404(Notice, pk=pk)
    form = ArrivedForm(request.POST or None)
    if form.is_valid():
        by, now = cast(Person, request.user), timezone.now()
        said = {"notice": notice, "reason": form.cleaned_data["reason"]}
        if attempt(form, operations.confirm_arrival, **said, by=by, now=now) is not None:
            flash.success(request, f"“{notice.title}” counts as arrived.")
            return redirect("messages")
    status = 422 if form.errors else 200
    return render(request, "labsys/jobs/arrived.html", {"form": form, "notice": notice}, status=status)
