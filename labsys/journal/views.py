"""Pages of the journal: the entries as a list and as a file, one entry, and walking the chain on the spot."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required, permission_required
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from labsys.journal import queries
from labsys.journal.access import READ_JOURNAL
from labsys.journal.columns import COLUMNS, FILE_HEADINGS, cells, file_line
from labsys.journal.door import Acting
from labsys.journal.filters import JournalFilter
from labsys.journal.models import JournalEntry
from labsys.journal.operations import record_verification
from labsys.journal.subjects import shown
from labsys.journal.words import act_words, changes
from labsys.pages import export, keyset
from labsys.pages.tables import Row, Table, capped_count

log = logging.getLogger(__name__)

NEWEST_FIRST = ("-sequence",)
AT_ONCE = 2_000
MOST_ON_THE_SPOT = 50_000
"""Entries that are walked while somebody waits; a longer journal is left to the daily job and the command."""


@login_required
@permission_required(READ_JOURNAL, raise_exception=True)
@require_GET
def journal(request: HttpRequest) -> HttpResponseBase:
    """List the entries the address asks for; with ``as=csv`` give them as a file."""
    filters = JournalFilter(request.GET, queryset=queries.entries())
    found = filters.qs if filters.is_valid() else queries.entries().none()
    if request.GET.get("as"):
        return _file(request, found)
    page = keyset.page(found, order=NEWEST_FIRST, token=request.GET.get("page", ""))
    context = {
        "filters": filters,
        "table": Table("Entries of the journal", COLUMNS, _rows(page.rows)),
        "page": page,
        "count": capped_count(found),
        "verification": queries.last_verification(),
        "now": timezone.now(),
    }
    return render(request, "labsys/journal/journal.html", context)


def _rows(entries: Sequence[JournalEntry]) -> list[Row]:
    subjects = shown(entry.subject for entry in entries)
    return [Row(entry.sequence, cells(entry, subjects[entry.subject])) for entry in entries]


def _file(request: HttpRequest, found: QuerySet[JournalEntry]) -> HttpResponseBase:
    # That somebody took the record away is itself worth a line; it changes nothing, so it is no act.
    log.info("%s takes the journal as a file: %s", request.user, request.META.get("QUERY_STRING", ""))
    kind = request.GET["as"]
    if kind != "csv":
        raise export.UnknownFormat(found=kind)
    return export.answer("journal", headings=FILE_HEADINGS, rows=_lines(found), kind=kind)


def _lines(found: QuerySet[JournalEntry]) -> Iterator[list[Any]]:
    for entry in found.order_by("sequence").iterator(chunk_size=AT_ONCE):
        yield file_line(entry)


@login_required
@permission_required(READ_JOURNAL, raise_exception=True)
@require_GET
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one entry: what it says, field by field, and whether it holds together with the one before."""
    found = get_object_or_404(JournalEntry, pk=pk)
    alike = queries.entries().filter(request_id=found.request_id) if found.request_id else None
    context = {
        "entry": found,
        "words": act_words(found.act),
        "subject": shown([found.subject])[found.subject],
        "changes": changes(found.before, found.after),
        "fault": queries.fault_of(found),
        "alike": _alike(alike.filter(**_near(found)).exclude(pk=pk)[:20]) if alike is not None else (),
        "next": queries.entries().filter(pk=pk + 1).exists(),
    }
    return render(request, "labsys/journal/entry.html", context)


def _alike(entries: Iterable[JournalEntry]) -> list[tuple[int, str, str]]:
    found = list(entries)
    subjects = shown(one.subject for one in found)
    return [(one.pk, act_words(one.act), subjects[one.subject].text) for one in found]


def _near(found: JournalEntry) -> dict[str, int]:
    """Entries of one request were written together, so they stand near: no search through the whole journal."""
    return {"sequence__gte": found.sequence - 1000, "sequence__lte": found.sequence + 1000}


@login_required
@permission_required(READ_JOURNAL, raise_exception=True)
@require_POST
def verify(request: HttpRequest) -> HttpResponse:
    """Walk the whole chain now, where it is short enough to wait for, and record what was found."""
    if capped_count(queries.entries(), cap=MOST_ON_THE_SPOT).is_capped:
        messages.warning(
            request,
            "The journal is too long to be walked while you wait. It is walked once a day; see above.",
        )
        return redirect("journal")
    report = queries.verify_chain()
    record_verification(report=report, by=cast(Acting, request.user), now=timezone.now())
    if report.fault:
        messages.error(request, f"The journal does not hold together. {report.fault}")
    else:
        messages.success(request, f"All {report.entries:,} entries hold together.")
    return redirect("journal")
