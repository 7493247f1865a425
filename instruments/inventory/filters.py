"""What a list of gauges can be narrowed to, on the page and in the API alike. The address holds it, in plain words."""

from __future__ import annotations

from typing import Any, ClassVar

import django_filters
from django import forms
from django.db.models import Q, QuerySet
from django.utils import timezone

from instruments.inventory.models import Gauge, GaugeModel, GaugeState
from instruments.inventory.queries.gauges import in_state
from labsys.laboratory.models import Department, Family


class GaugeFilter(django_filters.FilterSet):
    """Narrows gauges by what the inventory knows of them."""

    text = django_filters.CharFilter(method="by_text", label="Tag, serial, model or note")
    family = django_filters.ModelChoiceFilter(
        field_name="model__family",
        to_field_name="code",
        queryset=Family.objects.all(),
        label="Family",
        empty_label="all",
    )
    department = django_filters.ModelChoiceFilter(
        to_field_name="code", queryset=Department.objects.all(), label="Department", empty_label="all"
    )
    place = django_filters.CharFilter(field_name="place__name", lookup_expr="icontains", label="Place")
    custodian = django_filters.CharFilter(
        field_name="custodian__username", lookup_expr="iexact", label="Custodian's user name"
    )
    owner = django_filters.ChoiceFilter(choices=Gauge.Owner.choices, label="Owner", empty_label="all")
    state = django_filters.ChoiceFilter(
        choices=GaugeState.State.choices, method="by_state", label="State", empty_label="all"
    )
    model = django_filters.NumberFilter(field_name="model_id", widget=forms.HiddenInput(), label="Model's id")

    class Meta:
        model = Gauge
        fields: ClassVar[list[str]] = []

    def by_text(self, rows: QuerySet[Gauge], name: str, value: str) -> QuerySet[Gauge]:
        """Narrow to gauges in which every word is found somewhere."""
        for word in value.split():
            places = ("tag__text", "serial", "model__maker", "model__designation", "note")
            anywhere = Q()
            for place in places:
                anywhere |= Q(**{f"{place}__icontains": word})
            rows = rows.filter(anywhere)
        return rows

    def by_state(self, rows: QuerySet[Gauge], name: str, value: str) -> QuerySet[Gauge]:
        """Narrow to gauges in a service state at the moment of asking."""
        return in_state(rows, value, timezone.now())


class ModelFilter(django_filters.FilterSet):
    """Narrows models."""

    text = django_filters.CharFilter(method="by_text", label="Maker or designation")
    family = django_filters.ModelChoiceFilter(
        to_field_name="code", queryset=Family.objects.all(), label="Family", empty_label="all"
    )

    class Meta:
        model = GaugeModel
        fields: ClassVar[list[str]] = []

    def by_text(self, rows: QuerySet[GaugeModel], name: str, value: str) -> QuerySet[GaugeModel]:
        """Narrow to models in which every word is found somewhere."""
        for word in value.split():
            rows = rows.filter(Q(maker__icontains=word) | Q(designation__icontains=word))
        return rows


def asked(filters: Any) -> dict[str, str]:
    """Give what the address asks for, by filter, so that a page can say it in words."""
    return {name: value for name, value in filters.data.items() if name in filters.filters and value}
