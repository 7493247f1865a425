"""Reads about people: who holds which authorisation at an instant, whose run out soon."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import QuerySet

from labsys.accounts.models import Activity, ApiToken, Authorisation, Person
from labsys.laboratory.models import Family
from labsys.laboratory.queries import local_date


def authorisation_in_force(
    person: Person, activity: Activity | str, family: Family, at: datetime, known_at: datetime | None = None
) -> Authorisation | None:
    """Find the authorisation that lets ``person`` do the activity at ``at``, as known then; None when none does."""
    rows = Authorisation.objects.filter(person=person, activity=str(activity), family=family)
    row: Authorisation | None = rows.in_force(at, known_at)
    if row is None or row.withdrawn or not person.is_active:
        return None
    if row.lapses_on is not None and local_date(at) > row.lapses_on:
        return None
    return row


def lapsing(today: date, until: date) -> list[Authorisation]:
    """List the authorisations in force whose term ends between two days."""
    rows = (
        Authorisation.objects.filter(lapses_on__gte=today, lapses_on__lte=until, withdrawn=False)
        .select_related("person", "family")
        .order_by("lapses_on")
    )
    return [row for row in rows if _is_newest(row)]


def _is_newest(row: Authorisation) -> bool:
    newer = Authorisation.objects.filter(person=row.person, activity=row.activity, family=row.family)
    return bool(
        newer.order_by("-valid_from", "-recorded_at", "-pk").values_list("pk", flat=True).first() == row.pk
    )


def people() -> QuerySet[Person]:
    """Find everybody with an account."""
    return Person.objects.select_related("department").prefetch_related("groups")


def token_in_use(token_sha256: str) -> ApiToken | None:
    """Find the token of that hash, unless it was revoked or its person has no account any more."""
    rows = ApiToken.objects.filter(revoked_at=None, person__is_active=True).select_related("person")
    return rows.filter(token_sha256=token_sha256).first()


def tokens_of(person: Person) -> QuerySet[ApiToken]:
    """Find the tokens of a person that still work, newest first."""
    return ApiToken.objects.filter(person=person, revoked_at=None)
