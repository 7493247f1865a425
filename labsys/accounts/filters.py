"""What lists of people and of authorisations can be narrowed to."""

from __future__ import annotations

from datetime import timedelta
from typing import ClassVar

import django_filters
from django.db.models import Q, QuerySet
from django.utils import timezone

from labsys.accounts.models import Activity, Authorisation, Person
from labsys.journal.roles import Role
from labsys.laboratory.models import Department, Family
from labsys.laboratory.queries import local_date

SOON_DAYS = 60
"""A term that ends within these days is shown as ending soon: time enough to watch somebody work and to renew it."""


class PeopleFilter(django_filters.FilterSet):
    """Narrows people."""

    text = django_filters.CharFilter(method="by_text", label="Text", help_text="in name or user name")
    role = django_filters.ChoiceFilter(
        field_name="groups__name",
        choices=[(role.value, role.value) for role in Role],
        label="Role",
        empty_label="all",
    )
    department = django_filters.ModelChoiceFilter(
        queryset=Department.objects.all(), to_field_name="code", label="Department", empty_label="all"
    )
    account = django_filters.ChoiceFilter(
        choices=[("open", "open"), ("closed", "closed")],
        method="by_account",
        label="Account",
        empty_label="all",
    )

    class Meta:
        model = Person
        fields: ClassVar[list[str]] = []

    def by_text(self, rows: QuerySet[Person], name: str, value: str) -> QuerySet[Person]:
        """Narrow to people in whom every word is found."""
        for word in value.split():
            rows = rows.filter(Q(name__icontains=word) | Q(username__icontains=word))
        return rows

    def by_account(self, rows: QuerySet[Person], name: str, value: str) -> QuerySet[Person]:
        """Narrow to open or closed accounts."""
        return rows.filter(is_active=value == "open")


class AuthorisationFilter(django_filters.FilterSet):
    """Narrows authorisations."""

    person = django_filters.CharFilter(method="by_person", label="Person", help_text="name or user name")
    family = django_filters.ModelChoiceFilter(
        queryset=Family.objects.all(), to_field_name="code", label="Family", empty_label="all"
    )
    activity = django_filters.ChoiceFilter(choices=Activity.choices, label="May", empty_label="all")
    lapses = django_filters.ChoiceFilter(
        choices=[("soon", f"within {SOON_DAYS} days")], method="by_term", label="Lapses", empty_label="any"
    )

    class Meta:
        model = Authorisation
        fields: ClassVar[list[str]] = []

    def by_person(self, rows: QuerySet[Authorisation], name: str, value: str) -> QuerySet[Authorisation]:
        """Narrow to people in whom every word is found."""
        for word in value.split():
            rows = rows.filter(Q(person__name__icontains=word) | Q(person__username__icontains=word))
        return rows

    def by_term(self, rows: QuerySet[Authorisation], name: str, value: str) -> QuerySet[Authorisation]:
        """Narrow to terms that end soon."""
        return rows.filter(lapses_on__lte=local_date(timezone.now()) + timedelta(days=SOON_DAYS))
