"""The instant a page speaks of: now, or the end of a day that its address names."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.http import HttpRequest
from django.utils.dateparse import parse_date

from labsys.laboratory.queries import local_date, start_of_day


@dataclass(frozen=True)
class AsOf:
    """The instant a page speaks of: the end of the day that ``on`` names in the address, otherwise now."""

    at: datetime
    day: date | None = None
    is_unreadable: bool = False

    @property
    def is_now(self) -> bool:
        """Say whether the page speaks of now."""
        return self.day is None


def as_of(request: HttpRequest, now: datetime) -> AsOf:
    """Read the day from the address; one that is no day, or still to come, is said and not taken."""
    text = request.GET.get("on", "")
    try:
        day = parse_date(text)
    except ValueError:
        day = None
    if day is None or day > local_date(now):
        return AsOf(now, is_unreadable=bool(text))
    return AsOf(min(end_of_day(day), now), day)


def end_of_day(day: date) -> datetime:
    """Give the last instant of a day in the laboratory's zone."""
    return start_of_day(day + timedelta(days=1)) - timedelta(microseconds=1)


def beginning(day: date, now: datetime) -> datetime:
    """Give the instant from which something holds that begins on ``day``: now for today, else when the day begins."""
    return now if day == local_date(now) else start_of_day(day)
