"""The page of a chain: from one calibration up to where it ends, every link with the day it was relied on."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from standards.register.forms import OnForm
from standards.register.models import Calibration
from standards.traceability.queries import chain_of, faults_of


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
def chain(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the chain of a calibration as if it were relied on on the day in the address, today where it names none."""
    calibration = get_object_or_404(Calibration.objects.select_related("standard__tag"), pk=pk)
    now = timezone.now()
    asked = OnForm.of(request.GET, now)
    at, day = asked.instant(now), asked.day(now)
    node = chain_of(calibration, at)
    context = {
        "calibration": calibration,
        "standard": calibration.standard,
        "node": node,
        "faults": faults_of(node),
        "asked": asked,
        "day": day,
        "is_today": day == local_date(now),
    }
    return render(request, "standards/traceability/chain.html", context)
