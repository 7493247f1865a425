"""What the list of runs can be narrowed to."""

from __future__ import annotations

from typing import ClassVar

import django_filters

from labsys.jobs.models import JobRun


class RunFilter(django_filters.FilterSet):
    """Narrows runs of jobs."""

    name = django_filters.CharFilter(label="Job", help_text="its name, such as send-notices")
    outcome = django_filters.ChoiceFilter(choices=JobRun.Outcome.choices, label="Outcome", empty_label="all")

    class Meta:
        model = JobRun
        fields: ClassVar[list[str]] = []
