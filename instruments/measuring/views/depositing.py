"""Where tablets deposit what was typed: an address that reads no cookie, so that no sign-in stands in its way."""

from __future__ import annotations

import json

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from instruments.measuring.access import MEASURE
from instruments.measuring.depositing import read_deposit
from instruments.measuring.operations import deposit_all, grant_bench
from instruments.measuring.operations.granting import GrantUnknown, grant_behind
from instruments.measuring.queries import became, known_sessions, receipts
from instruments.measuring.views.frame import person
from labsys.errors import LabError

UNKNOWN_SESSION = "There is no such session here. It stays on the tablet; tell the administrator."


@csrf_exempt
@require_POST
def deposit(request: HttpRequest) -> JsonResponse:
    """Keep every envelope that can be kept, then judge; lists what is kept with its hash and what became of it.

    Whoever holds the grant is the person; nothing is read from cookies.
    """
    now = timezone.now()
    try:
        found = read_deposit(request.body, now)
        grant = grant_behind(found.grant, now)
    except LabError as refusal:
        status = 403 if isinstance(refusal, GrantUnknown) else 400
        return JsonResponse({"code": refusal.code, "sentence": str(refusal)}, status=status)
    known = known_sessions(one.session_id for one in found.envelopes)
    keepable = [one for one in found.envelopes if one.session_id in known]
    faults = found.faults | {
        one.client_id: UNKNOWN_SESSION for one in found.envelopes if one.session_id not in known
    }
    kept = deposit_all(envelopes=keepable, by=grant.person, now=now)
    return JsonResponse(
        {
            "kept": became(kept),
            "refused": [{"id": key, "sentence": sentence} for key, sentence in faults.items()],
            "receipts": receipts(found.receipts_for, grant.device),
            "now": now.isoformat(),
        }
    )


@login_required
@permission_required(MEASURE, raise_exception=True)
@require_POST
def grant(request: HttpRequest) -> JsonResponse:
    """Give this device its key for depositing in the name of who is signed in."""
    try:
        device = str(json.loads(request.body)["device"])[:64]
    except (ValueError, KeyError, TypeError):
        return JsonResponse(
            {"code": "device-missing", "sentence": "Expected the device's own name."}, status=400
        )
    row, key = grant_bench(device=device, by=person(request), now=timezone.now())
    return JsonResponse({"grant": key, "until": row.until.isoformat(), "person": row.person_id})
