"""What the list of certificates can be narrowed to, on the page and in the API alike."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, ClassVar

import django_filters
from django import forms
from django.db.models import Q, QuerySet

from instruments.certificates.models import Certificate
from labsys.laboratory.models import Department
from labsys.laboratory.queries import start_of_day

_DAY = forms.DateInput(attrs={"type": "date"})


class CertificateFilter(django_filters.FilterSet):
    """Narrows certificates by number, gauge, state and the days they were issued on."""

    text = django_filters.CharFilter(
        method="by_text", label="Text", help_text="in number, tag or serial number"
    )
    department = django_filters.ModelChoiceFilter(
        field_name="session__gauge__department",
        to_field_name="code",
        queryset=Department.objects.all(),
        label="Department",
        empty_label="all",
    )
    state = django_filters.ChoiceFilter(choices=Certificate.State.choices, label="State", empty_label="all")
    since = django_filters.DateFilter(method="by_since", label="Signed from", widget=_DAY)
    until = django_filters.DateFilter(method="by_until", label="Signed until", widget=_DAY)
    tag = django_filters.CharFilter(
        field_name="session__gauge__tag__text", lookup_expr="iexact", label="Tag", widget=forms.HiddenInput()
    )

    class Meta:
        model = Certificate
        fields: ClassVar[list[str]] = []

    def by_text(self, rows: QuerySet[Certificate], name: str, value: str) -> QuerySet[Certificate]:
        """Narrow to certificates in which every word is found somewhere."""
        for word in value.split():
            anywhere = Q(number__icontains=word) | Q(session__gauge__serial__icontains=word)
            rows = rows.filter(anywhere | Q(session__gauge__tag__text__icontains=word))
        return rows

    def by_since(self, rows: QuerySet[Certificate], name: str, value: date) -> QuerySet[Certificate]:
        """Narrow to what was signed on a day or later, by the laboratory's calendar."""
        return rows.filter(numbered_at__gte=start_of_day(value))

    def by_until(self, rows: QuerySet[Any], name: str, value: date) -> QuerySet[Certificate]:
        """Narrow to what was signed on a day or earlier, by the laboratory's calendar."""
        return rows.filter(numbered_at__lt=start_of_day(value + timedelta(days=1)))
