"""What standings can be narrowed to, by programs that ask many at once."""

from __future__ import annotations

import django_filters

from instruments.recall.models import GaugeStanding


class StandingFilter(django_filters.FilterSet):
    """Standings by today's word, department, family and due day."""

    word = django_filters.ChoiceFilter(
        field_name="word_today", choices=GaugeStanding.Word.choices, help_text="today's answer"
    )
    department = django_filters.CharFilter(field_name="department__code", help_text="code of the department")
    family = django_filters.CharFilter(field_name="model__family__code", help_text="code of the family")
    due_before = django_filters.DateFilter(
        field_name="standing__valid_until", lookup_expr="lt", help_text="due before that day"
    )
    in_laboratory = django_filters.BooleanFilter(field_name="standing__in_laboratory")
