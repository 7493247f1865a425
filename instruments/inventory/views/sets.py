"""Pages on which members are added to a set or withdrawn."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.forms.gauges import ReasonForm
from instruments.inventory.forms.sets import MemberForm
from instruments.inventory.models import Member
from instruments.inventory.operations import add_member, withdraw_member
from instruments.inventory.views.frame import form_page, gauge_or_404, home, person
from labsys.pages.refusals import attempt


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def member_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a piece to a set."""
    gauge = gauge_or_404(pk)
    form = MemberForm(request.POST or None)
    if form.is_valid():
        given = form.cleaned_data
        made = attempt(form, add_member, gauge=gauge, **given, by=person(request), now=timezone.now())
        if made is not None:
            messages.success(request, f"{made.label} belongs to {gauge} now.")
            return redirect(home(gauge))
    return form_page(
        request, form, heading=f"Add a member to {gauge}", act="Add", back=home(gauge), gauge=gauge
    )


@login_required
@permission_required(MANAGE_GAUGES, raise_exception=True)
@require_http_methods(["GET", "POST"])
def member_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a piece of a set out of use."""
    member = get_object_or_404(Member.objects.select_related("gauge__tag"), pk=pk)
    gauge = gauge_or_404(member.gauge_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        if attempt(
            form, withdraw_member, member=member, reason=reason, by=person(request), now=timezone.now()
        ):
            messages.success(
                request, f"{member.label} of {gauge} is withdrawn. Mark the piece and take it out."
            )
            return redirect(home(gauge))
    heading = f"Withdraw {member.label} from {gauge}"
    return form_page(request, form, heading=heading, act="Withdraw", back=home(gauge), gauge=gauge)
