"""Reads about the laboratory: what is agreed, its details and capacity at an instant, its calendar day."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Model, QuerySet, Value
from django.db.models.functions import Lower

from labsys.journal.models import JournalEntry
from labsys.laboratory.models import Agreement, Capacity, Department, Family, LaboratoryDetail
from labsys.pages.figures import when

VALIDATE = "laboratory.validate-arithmetic"
"""The act that records what a run of the known answers came to."""

AGREED_FOR = ("department", "family")
"""Whom and what an agreement is between; the newest row of each pair wins."""


def zone() -> ZoneInfo:
    """Give the laboratory's time zone."""
    return ZoneInfo(settings.LAB_ZONE)


def local_date(at: datetime) -> date:
    """Turn an instant into the laboratory's calendar day: due days end at its midnight, not at UTC's."""
    return at.astimezone(zone()).date()


def local_time(at: datetime) -> str:
    """Write an instant as the laboratory's clock showed it, as sentences say it: 2026-11-25 07:43."""
    return when(at, zone=zone())


def start_of_day(day: date) -> datetime:
    """Turn a calendar day into the instant it begins in the laboratory's zone."""
    return datetime.combine(day, time.min, tzinfo=zone())


def called(rows: QuerySet, text: str, path: str = "tag__text") -> QuerySet:
    """Narrow to the rows whose tag reads ``text``, whatever the capitals; ``path`` leads from a row to the tag's text.

    Answered from the index that keeps tags apart; a plain ``iexact`` would read every tag there is.
    """
    found: QuerySet = rows.annotate(tag_low=Lower(path)).filter(tag_low=Lower(Value(text.strip())))
    return found


def agreement_in_force(
    department: Department, family: Family, at: datetime, known_at: datetime | None = None
) -> Agreement | None:
    """Find what the department had settled for the family at ``at``; None when nothing was, or it was withdrawn."""
    rows = Agreement.objects.filter(department=department, family=family)
    row: Agreement | None = rows.in_force(at, known_at)
    return None if row is None or row.withdrawn else row


def details_in_force(at: datetime) -> LaboratoryDetail | None:
    """Find what the laboratory called itself at ``at`` and whether a second signature was required."""
    row: LaboratoryDetail | None = LaboratoryDetail.objects.in_force(at)
    return row


def hours_per_week(at: datetime) -> Decimal:
    """Give the bench hours of a working week at ``at``; 0 when nobody has said."""
    row: Capacity | None = Capacity.objects.in_force(at)
    return Decimal(0) if row is None else row.hours_per_week


def agreements_in_force(at: datetime, known_at: datetime | None = None) -> QuerySet[Agreement]:
    """Find what holds at ``at`` for every department and family, as known then."""
    rows = Agreement.objects.each_in_force(*AGREED_FOR, at=at, known_at=known_at)
    held: QuerySet[Agreement] = rows.filter(withdrawn=False)
    return held.select_related("department", "family").order_by("department__name", "family__name", "pk")


def agreements_between(department: Department, family: Family) -> QuerySet[Agreement]:
    """Find every row about a department and a family, newest first."""
    rows = Agreement.objects.filter(department=department, family=family)
    return rows.select_related("department", "family").order_by("-valid_from", "-recorded_at", "-pk")


def agreements_to_withdraw(
    department: Department, family: Family, now: datetime
) -> list[tuple[datetime, Agreement]]:
    """Give the instants at which a withdrawal must stand, each with what it ends: now, and wherever one would begin."""
    rows = Agreement.objects.filter(department=department, family=family, recorded_at__lte=now)
    later = rows.filter(valid_from__gt=now).order_by("valid_from").values_list("valid_from", flat=True)
    held = [(at, rows.in_force(at, now)) for at in dict.fromkeys((now, *later))]
    ends = [(at, row) for at, row in held if row is not None and not row.withdrawn]
    if ends and ends[0][0] != now:
        # One that is still to come may be all there is; a row as of now says that nothing holds meanwhile either.
        ends.insert(0, (now, ends[0][1]))
    return ends


def capacities() -> QuerySet[Capacity]:
    """Find what bench hours were and are to come, newest first."""
    rows: QuerySet[Capacity] = Capacity.objects.order_by("-valid_from", "-recorded_at", "-pk")
    return rows


def all_details() -> QuerySet[LaboratoryDetail]:
    """Find everything the laboratory ever called itself, newest first."""
    rows: QuerySet[LaboratoryDetail] = LaboratoryDetail.objects.order_by("-valid_from", "-recorded_at", "-pk")
    return rows


def names_of(model: type[Model], ids: Collection[int]) -> Mapping[int, str]:
    """Give the names of departments, places, families or agreements by their ids."""
    return {row.pk: str(row) for row in _with_names(model).filter(pk__in=ids)}


def _with_names(model: type[Model]) -> QuerySet[Any]:
    rows = model._default_manager.all()
    return rows.select_related("department", "family") if model is Agreement else rows


def last_validation() -> JournalEntry | None:
    """Find the entry of the last run of the known answers; None before the first."""
    done = JournalEntry.Outcome.DONE
    return JournalEntry.objects.filter(act=VALIDATE, outcome=done).order_by("-sequence").first()
