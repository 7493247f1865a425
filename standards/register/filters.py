"""What the list of standards can be narrowed to, on the page and in the API alike. The address holds it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, ClassVar

import django_filters
from django.db.models import Q, QuerySet
from django.utils import timezone

from labsys.laboratory.queries import local_date
from standards.register.models import Standard, StandardState

SOON_DAYS = 60


class StandardFilter(django_filters.FilterSet):
    """Narrows standards; the rows must carry what ``queries.standards`` adds."""

    text = django_filters.CharFilter(
        method="by_text", label="Tag, name or serial", help_text="every word is found somewhere"
    )
    kind = django_filters.ChoiceFilter(choices=Standard.Kind.choices, label="Kind", empty_label="all")
    state = django_filters.ChoiceFilter(
        choices=StandardState.State.choices, field_name="state_at", label="State", empty_label="all"
    )
    due = django_filters.ChoiceFilter(
        choices=(
            ("overdue", "overdue"),
            ("soon", f"due within {SOON_DAYS} days"),
            ("none", "no calibration"),
        ),
        method="by_due",
        label="Due",
        empty_label="all",
    )
    review = django_filters.ChoiceFilter(
        choices=(("waiting", "waits for review"),), method="by_review", label="Review", empty_label="all"
    )

    class Meta:
        model = Standard
        fields: ClassVar[list[str]] = []

    def by_text(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        """Narrow to standards in which every word is found somewhere."""
        for word in value.split():
            anywhere = Q()
            for place in ("tag__text", "name", "serial", "maker"):
                anywhere |= Q(**{f"{place}__icontains": word})
            rows = rows.filter(anywhere)
        return rows

    def by_due(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        """Narrow to standards whose calibration has lapsed, lapses soon, or was never accepted."""
        today = local_date(timezone.now())
        if value == "none":
            return rows.filter(due_on_at=None)
        if value == "overdue":
            return rows.filter(due_on_at__lt=today)
        return rows.filter(due_on_at__gte=today, due_on_at__lte=today + timedelta(days=SOON_DAYS))

    def by_review(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        """Narrow to standards with a calibration that nobody has decided on."""
        return rows.filter(waiting__gt=0)
