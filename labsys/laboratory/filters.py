"""What the list of agreements can be narrowed to."""

from __future__ import annotations

from typing import ClassVar

import django_filters
from django.db.models import QuerySet

from labsys.laboratory.models import Agreement, Department, Family


class AgreementFilter(django_filters.FilterSet):
    """Narrows agreements."""

    department = django_filters.ModelChoiceFilter(
        queryset=Department.objects.all(), to_field_name="code", label="Department", empty_label="all"
    )
    family = django_filters.ModelChoiceFilter(
        queryset=Family.objects.all(), to_field_name="code", label="Family", empty_label="all"
    )
    due = django_filters.ChoiceFilter(
        choices=[("printed", "printed"), ("not-printed", "not printed")],
        method="by_due_date",
        label="Due date",
        empty_label="all",
    )

    class Meta:
        model = Agreement
        fields: ClassVar[list[str]] = []

    def by_due_date(self, rows: QuerySet[Agreement], name: str, value: str) -> QuerySet[Agreement]:
        """Narrow to agreements that let the due date be printed, or don't."""
        return rows.filter(due_date_printed=value == "printed")
