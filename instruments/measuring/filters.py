"""The filter of sessions, shared by whoever lists them."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from instruments.measuring.models import Session


class SessionFilter(django_filters.FilterSet):
    """By tag, state and day of opening; the address holds the filter."""

    tag = django_filters.CharFilter(label="Tag", method="by_tag")
    state = django_filters.ChoiceFilter(label="State", choices=Session.State.choices, empty_label="all")
    opened_from = django_filters.DateFilter(
        label="Opened from", field_name="opened_at", lookup_expr="date__gte"
    )
    opened_to = django_filters.DateFilter(label="Opened to", field_name="opened_at", lookup_expr="date__lte")

    class Meta:
        model = Session
        fields: tuple[str, ...] = ()

    def by_tag(self, rows: QuerySet[Session], _name: str, text: str) -> QuerySet[Session]:
        """Narrow to gauges whose tag holds the text."""
        return rows.filter(gauge__tag__text__icontains=text.strip())
