"""What a monitor asks: does it live, is it ready, does the clock tick, how much waits.

Three answers on purpose: a web process that waits for a migration must not get visitors, but one whose worker has
stopped should still serve the bench, so the clock has an address of its own to raise an alarm by.
"""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.utils import DatabaseError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.http import require_safe

from labsys.jobs.figures import figures, last_sweep_at

# Sweeps run each minute; five missed ones are no accident of timing.
LATE_AFTER = timedelta(minutes=5)


@require_safe
def live(_request: HttpRequest) -> HttpResponse:
    """Answer that the process takes requests; touches nothing else."""
    return HttpResponse("live\n", content_type="text/plain")


@require_safe
def ready(_request: HttpRequest) -> JsonResponse:
    """Answer 200 when the database answers and has every migration, otherwise 503 with what is missing."""
    try:
        waiting = _unapplied()
    except DatabaseError as error:
        return JsonResponse({"database": f"does not answer: {type(error).__name__}"}, status=503)
    migrations = f"{waiting} not applied: run manage.py migrate" if waiting else "complete"
    return JsonResponse({"database": "answers", "migrations": migrations}, status=503 if waiting else 200)


@require_safe
def clock(_request: HttpRequest) -> JsonResponse:
    """Answer 200 while sweeps end well, 503 when none did for five minutes."""
    last = last_sweep_at()
    late = last is None or timezone.now() - last > LATE_AFTER
    found = {"last_sweep_at": last.isoformat() if last else None, "late": late}
    return JsonResponse(found, status=503 if late else 200)


@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Give the counts a monitor draws, one ``name value`` a line, to who knows the key or asks on this machine."""
    if not _may_read_metrics(request):
        sentence = "Set LABSYS_METRICS_KEY and send it as a bearer token.\n"
        return HttpResponse(sentence, status=403, content_type="text/plain")
    now = timezone.now()
    found = figures(now=now)
    age = (now - found.last_sweep_at).total_seconds() if found.last_sweep_at else float("nan")
    lines = [
        f"labsys_sweep_age_seconds {age}",
        f"labsys_owed_work {found.owed}",
        f"labsys_failed_runs_last_day {found.failed_runs}",
        *(f'labsys_notices{{state="{state}"}} {count}' for state, count in found.notices.items()),
    ]
    return HttpResponse("\n".join(lines) + "\n", content_type="text/plain; version=0.0.4")


def _unapplied() -> int:
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def _may_read_metrics(request: HttpRequest) -> bool:
    key = settings.METRICS_KEY
    if key:
        return constant_time_compare(request.headers.get("Authorization", ""), f"Bearer {key}")
    # A proxy on this machine asks from this machine too; what it passes on comes from elsewhere.
    return (
        request.META.get("REMOTE_ADDR") in {"127.0.0.1", "::1"} and "X-Forwarded-For" not in request.headers
    )
