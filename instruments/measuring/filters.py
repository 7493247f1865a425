"""What the list of sessions can be narrowed to. The address holds it, in plain words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import ClassVar

import django_filters
from django import forms
from django.db.models import QuerySet

from instruments.measuring.models import Session
from labsys.laboratory.models import Department, Family
from labsys.laboratory.queries import start_of_day


class SessionFilter(django_filters.FilterSet):
    """Narrows sessions by gauge, who opened them, state and day; days are the laboratory's."""

    tag = django_filters.CharFilter(field_name="gauge__tag__text", lookup_expr="icontains", label="Tag")
    family = django_filters.ModelChoiceFilter(
        field_name="gauge__model__family",
        to_field_name="code",
        queryset=Family.objects.all(),
        label="Family",
        empty_label="all",
    )
    department = django_filters.ModelChoiceFilter(
        field_name="gauge__department",
        to_field_name="code",
        queryset=Department.objects.all(),
        label="Department",
        empty_label="all",
    )
    state = django_filters.ChoiceFilter(label="State", choices=Session.State.choices, empty_label="all")
    by = django_filters.CharFilter(field_name="opened_by__name", lookup_expr="icontains", label="Opened by")
    opened_from = django_filters.DateFilter(
        label="Opened from", method="since", widget=forms.DateInput(attrs={"type": "date"})
    )
    opened_to = django_filters.DateFilter(
        label="Opened to", method="until", widget=forms.DateInput(attrs={"type": "date"})
    )

    class Meta:
        model = Session
        fields: ClassVar[list[str]] = []

    def since(self, rows: QuerySet[Session], name: str, day: date) -> QuerySet[Session]:
        """Narrow to sessions opened on a day or later."""
        return rows.filter(opened_at__gte=start_of_day(day))

    def until(self, rows: QuerySet[Session], name: str, day: date) -> QuerySet[Session]:
        """Narrow to sessions opened on a day or earlier."""
        return rows.filter(opened_at__lt=start_of_day(day + timedelta(days=1)))
