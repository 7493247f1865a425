"""What the journal can be narrowed to: a subject, an act, a person, days, refusals. Page and file share it."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import ClassVar
from zoneinfo import ZoneInfo

import django_filters
from django import forms
from django.conf import settings
from django.db.models import QuerySet

from labsys.journal.door import known_acts
from labsys.journal.models import JournalEntry
from labsys.journal.subjects import found_by
from labsys.journal.words import topic_words

Entries = QuerySet[JournalEntry]


def _acts() -> list[tuple[str, str]]:
    """Offer every act of the program, and each part of the work as a whole, in the order of their names."""
    topics = {f"{topic_words(name)}.": f"{topic_words(name)}, all" for name in known_acts}
    acts = {name: name.replace(".", ", ").replace("-", " ") for name in known_acts}
    return sorted({**topics, **acts}.items())


def _day(label: str, method: str) -> django_filters.DateFilter:
    return django_filters.DateFilter(
        method=method, label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class JournalFilter(django_filters.FilterSet):
    """Narrows the entries of the journal."""

    about = django_filters.CharFilter(
        method="by_subject", label="About", help_text="a tag, a name, a number, or gauge:12"
    )
    act = django_filters.ChoiceFilter(choices=_acts, method="by_act", label="Act", empty_label="all")
    who = django_filters.CharFilter(method="by_actor", label="Who", help_text="a user name or a name")
    since = _day("From", "by_first_day")
    until = _day("Until", "by_last_day")
    outcome = django_filters.ChoiceFilter(
        choices=JournalEntry.Outcome.choices, label="Outcome", empty_label="all"
    )

    class Meta:
        model = JournalEntry
        fields: ClassVar[list[str]] = []

    def by_subject(self, rows: Entries, name: str, value: str) -> Entries:
        """Narrow to what somebody may mean by the text; nothing is found where nobody knows it."""
        return rows.filter(subject__in=found_by(value.strip()) or [value.strip()])

    def by_act(self, rows: Entries, name: str, value: str) -> Entries:
        """Narrow to one act, or to all of a part of the work."""
        return rows.filter(act__startswith=value) if value.endswith(".") else rows.filter(act=value)

    def by_actor(self, rows: Entries, name: str, value: str) -> Entries:
        """Narrow to the acts of a person or a job, whatever their name was at the time."""
        return rows.filter(actor_id__in=found_by(value.strip()) or [value.strip()])

    def by_first_day(self, rows: Entries, name: str, value: date) -> Entries:
        """Narrow to acts from the beginning of a day on."""
        return rows.filter(at__gte=_midnight(value))

    def by_last_day(self, rows: Entries, name: str, value: date) -> Entries:
        """Narrow to acts until the end of a day."""
        return rows.filter(at__lt=_midnight(value + timedelta(days=1)))


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time.min, tzinfo=ZoneInfo(settings.LAB_ZONE))
