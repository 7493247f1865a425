"""The page of jobs: when each last ended well, what failed, what is owed and since when."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET

from labsys.jobs import queries
from labsys.jobs.access import MANAGE_MESSAGES
from labsys.jobs.filters import RunFilter
from labsys.jobs.models import JobRun
from labsys.laboratory.queries import zone
from labsys.pages import figures, keyset
from labsys.pages.tables import Column, Row, Table, capped_count

COLUMNS = (
    Column("name", "Job", row_head=True),
    Column("started", "Began", nowrap=True),
    Column("took", "Took", number=True, nowrap=True),
    Column("outcome", "Outcome"),
    Column("done", "Done", number=True),
    Column("detail", "What it says"),
)
MOST = 50


@login_required
@permission_required(MANAGE_MESSAGES, raise_exception=True)
@require_GET
def jobs(request: HttpRequest) -> HttpResponse:
    """Show how the program's work in the background goes."""
    now = timezone.now()
    filters = RunFilter(request.GET, queryset=queries.runs())
    found = filters.qs if filters.is_valid() else queries.runs().none()
    page = keyset.page(found, order=("-pk",), token=request.GET.get("page", ""))
    context = {
        "summary": queries.summary(now),
        "owed": queries.owed_by_kind(),
        "failing": queries.failing()[:MOST],
        "undecided": queries.undecided().count(),
        "filters": filters,
        "table": Table("Runs of jobs", COLUMNS, _rows(page.rows)),
        "page": page,
        "count": capped_count(found),
    }
    return render(request, "labsys/jobs/jobs.html", context)


def _rows(runs: Sequence[JobRun]) -> list[Row]:
    return [Row(run.pk, _cells(run), str(run)) for run in runs]


def _cells(run: JobRun) -> dict[str, Any]:
    failed = run.outcome == JobRun.Outcome.FAILED
    took = (run.finished_at - run.started_at).total_seconds() if run.finished_at else None
    return {
        "name": run.name,
        "started": figures.when(run.started_at, zone=zone()),
        "took": "–" if took is None else figures.with_unit(f"{took:.1f}", "s"),
        "outcome": format_html('<span class="flag">{}</span>' if failed else "{}", run.get_outcome_display()),
        "done": run.done if run.total is None else f"{run.done} of {run.total}",
        "detail": format_html('<span class="said">{}</span>', run.detail),
    }
