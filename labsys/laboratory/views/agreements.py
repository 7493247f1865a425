"""What departments settled beforehand: the list as of any day, one agreement in words."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required, permission_required
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.http import require_GET

from labsys.journal.access import READ_RECORDS
from labsys.laboratory import queries
from labsys.laboratory.as_of import as_of
from labsys.laboratory.filters import AgreementFilter
from labsys.laboratory.models import Agreement
from labsys.metrology.decision import BadRule, Rule
from labsys.pages import figures, keyset
from labsys.pages.tables import Column, Row, Table, capped_count, order_from

COLUMNS = (
    Column("pair", "Agreement", sort=("department__name", "family__name", "pk"), row_head=True),
    Column("rule", "Decision rule"),
    Column("limits", "Limits"),
    Column("besides", "Besides"),
    Column("since", "Since", sort=("valid_from", "pk"), nowrap=True),
)
BESIDES = {"adjustment_allowed": "may adjust", "due_date_printed": "due date printed"}


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def agreements(request: HttpRequest) -> HttpResponse:
    """List what is agreed, now or on the day ``on`` names."""
    shown_of = as_of(request, timezone.now())
    rows: QuerySet[Agreement] = queries.agreements_in_force(shown_of.at)
    filters = AgreementFilter(request.GET, queryset=rows)
    found = filters.qs if filters.is_valid() else rows.none()
    order = order_from(request, COLUMNS, default="pair")
    page = keyset.page(found, order=order.fields(COLUMNS), token=request.GET.get("page", ""))
    context = {
        "filters": filters,
        "as_of": shown_of,
        "table": Table(
            "Agreements", COLUMNS, [Row(row.pk, _cells(row), str(row)) for row in page.rows], order
        ),
        "page": page,
        "count": capped_count(found),
    }
    return render(request, "labsys/laboratory/agreements.html", context)


def _cells(row: Agreement) -> dict[str, Any]:
    unsure = ' <span class="flag">not confirmed</span>' if row.limit_rows and not row.limits_confirmed else ""
    return {
        "pair": format_html('<a href="{}">{}</a>', reverse("agreement", args=[row.pk]), row),
        "rule": rule_words(row.rule),
        "limits": format_html(
            "{}" + unsure, row.limits_source or ("own" if row.limit_rows else "of the model")
        ),
        "besides": ", ".join(words for name, words in BESIDES.items() if getattr(row, name)) or "–",
        "since": figures.on(queries.local_date(row.valid_from)),
    }


def rule_words(stored: dict[str, Any]) -> str:
    """Give a stored rule as certificates print it; one that can't be read any more says so."""
    try:
        words = Rule.from_json(stored).words
    except BadRule as fault:
        return str(fault)
    return words[0].upper() + words[1:]


@login_required
@permission_required(READ_RECORDS, raise_exception=True)
@require_GET
def agreement(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one agreement in words, and what was agreed before and after it."""
    row = row_or_404(pk)
    now = timezone.now()
    held = queries.agreement_in_force(row.department, row.family, now)
    context = {
        "agreement": row,
        "rule": rule_words(row.rule),
        "held": held,
        "is_held": held is not None and held.pk == row.pk,
        "is_to_come": row.valid_from > now,
        "history": queries.agreements_between(row.department, row.family),
    }
    return render(request, "labsys/laboratory/agreement.html", context)


def row_or_404(pk: int) -> Agreement:
    """Find the row an address names."""
    return get_object_or_404(Agreement.objects.select_related("department", "family"), pk=pk)
