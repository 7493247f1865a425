"""What the list of agreements can be narrowed to."""

from __future__ import annotations

from typing import ClassVar

import django_filters

from labsys.laboratory.models import Agreement, Department, Family


class AgreementFilter(django_filters.FilterSet):
    """Narrows agreements."""

    department = django_filters.ModelChoiceFilter(
        queryset=Department.objects.all(), to_field_name="code", label="Department", empty_label="all"
    )
    family = django_filters.ModelChoiceFilter(
        queryset=Family.objects.all(), to_field_name="code", label="Family", empty_label="all"
    )
    due_date_printed = django_filters.TypedChoiceFilter(
        choices=[("yes", "printed"), ("no", "not printed")],
        coerce=lambda text: text == "yes",
        label="Due date",
        empty_label="all",
    )

    class Meta:
        model = Agreement
        fields: ClassVar[list[str]] = []
