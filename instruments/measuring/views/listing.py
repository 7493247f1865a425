"""The list of sessions: filtered, sorted and paged by its address, and given as a file of exactly what is shown."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.views.decorators.http import require_GET

from instruments.measuring.filters import SessionFilter
from instruments.measuring.models import Session
from instruments.measuring.queries import sessions
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import zone
from labsys.pages import figures
from labsys.pages.listing import Listing
from labsys.pages.tables import Column

COLUMNS = (
    Column("session", "Session", sort=("pk",), row_head=True, number=True),
    Column("gauge", "Gauge", sort=("gauge__tag__text", "pk"), nowrap=True),
    Column("model", "Model"),
    Column("department", "Department", sort=("gauge__department__name", "pk")),
    Column("state", "State", sort=("state", "pk")),
    Column("opened", "Opened", sort=("opened_at", "pk"), nowrap=True),
    Column("by", "By", sort=("opened_by__name", "pk")),
    Column("procedure", "Procedure"),
)


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def listing(request: HttpRequest) -> HttpResponseBase:
    """List the sessions the address asks for; with ``as`` give them as a file."""
    filters = SessionFilter(request.GET, queryset=sessions().select_related("revision__procedure"))
    return LISTING.answer(request, filters)


def cells(session: Session) -> dict[str, Any]:
    """Give what each column says of a session."""
    return {
        "session": session.pk,
        "gauge": session.gauge.tag.text,
        "model": str(session.gauge.model),
        "department": session.gauge.department.name,
        "state": session.get_state_display(),
        "opened": figures.when(session.opened_at, zone=zone()),
        "by": session.opened_by.name,
        "procedure": str(session.revision),
    }


def _links(session: Session) -> dict[str, str]:
    return {
        "session": reverse("session", args=[session.pk]),
        "gauge": reverse("gauge", args=[session.gauge_id]),
    }


LISTING = Listing(
    name="sessions",
    title="Sessions",
    template="instruments/measuring/sessions.html",
    columns=COLUMNS,
    default="-opened",
    cells=cells,
    links=_links,
    label=lambda session: f"session {session.pk}",
)
