"""Reads about the laboratory: what is agreed, its details and capacity at an instant, its calendar day."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.conf import settings

from labsys.laboratory.models import Agreement, Capacity, Department, Family, LaboratoryDetail


def zone() -> ZoneInfo:
    """Give the laboratory's time zone."""
    return ZoneInfo(settings.LAB_ZONE)


def local_date(at: datetime) -> date:
    """Turn an instant into the laboratory's calendar day: due days end at its midnight, not at UTC's."""
    return at.astimezone(zone()).date()


def start_of_day(day: date) -> datetime:
    """Turn a calendar day into the instant it begins in the laboratory's zone."""
    return datetime.combine(day, time.min, tzinfo=zone())


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
