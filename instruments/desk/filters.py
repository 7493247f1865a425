"""What the list of gauges can be narrowed to beyond the inventory: standing and due date; page and API share it."""

from __future__ import annotations

from datetime import timedelta

import django_filters
from django import forms
from django.db.models import QuerySet
from django.utils import timezone

from instruments.desk.queries import standing_as
from instruments.inventory.filters import GaugeFilter
from instruments.inventory.models import Gauge
from instruments.recall.models import GaugeStanding
from labsys.laboratory.queries import local_date

LATE = "late"
WINDOWS = (7, 30, 90)
DUE = [(LATE, "past"), *((str(days), f"within {days} days") for days in WINDOWS)]


class ListFilter(GaugeFilter):
    """Narrows the list of gauges by all that the list shows of them."""

    standing = django_filters.ChoiceFilter(
        choices=GaugeStanding.Word.choices, method="by_standing", label="Standing", empty_label="all"
    )
    due = django_filters.ChoiceFilter(choices=DUE, method="by_due", label="Due", empty_label="all")
    due_from = django_filters.DateFilter(
        field_name="standing__valid_until", lookup_expr="gte", label="Due from", widget=forms.HiddenInput()
    )
    due_until = django_filters.DateFilter(
        field_name="standing__valid_until", lookup_expr="lte", label="Due until", widget=forms.HiddenInput()
    )

    # Asked seldom, so folded away until one of them is in the address.
    rare = ("place", "custodian", "owner", "state")

    @property
    def rare_asked(self) -> bool:
        """Tell whether the address asks for one of those."""
        return self.data is not None and any(self.data.get(name) for name in self.rare)

    def by_standing(self, rows: QuerySet[Gauge], name: str, value: str) -> QuerySet[Gauge]:
        """Narrow to gauges of which the floor is told this today."""
        return standing_as(rows, value, local_date(timezone.now()))

    def by_due(self, rows: QuerySet[Gauge], name: str, value: str) -> QuerySet[Gauge]:
        """Narrow to gauges whose last day of use is past, or comes within some days; today counts as to come."""
        today = local_date(timezone.now())
        if value == LATE:
            return rows.filter(standing__valid_until__lt=today)
        until = today + timedelta(days=int(value))
        return rows.filter(standing__valid_until__gte=today, standing__valid_until__lte=until)
