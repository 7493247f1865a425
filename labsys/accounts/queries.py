"""Reads about people: who holds which authorisation at an instant, whose run out soon."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth.models import Group
from django.db.models import Q, QuerySet

from labsys.accounts.models import Activity, ApiToken, Authorisation, Person
from labsys.journal.roles import Role, declared
from labsys.laboratory.models import Family
from labsys.laboratory.queries import local_date

END_OF_TIME = datetime.max.replace(tzinfo=UTC)

KEYS = ("person", "activity", "family")
"""What one authorisation is about; the newest row of each wins."""


def authorisation_in_force(
    person: Person, activity: Activity | str, family: Family, at: datetime, known_at: datetime | None = None
) -> Authorisation | None:
    """Find the authorisation that lets ``person`` do the activity at ``at``, as known then; None when none does.

    Closing an account withdraws what its person held, so the answer for an earlier day stays what it was.
    """
    rows = Authorisation.objects.filter(person=person, activity=str(activity), family=family)
    row: Authorisation | None = rows.in_force(at, known_at)
    if row is None or row.withdrawn:
        return None
    if row.lapses_on is not None and local_date(at) > row.lapses_on:
        return None
    return row


def authorisations_in_force(at: datetime, known_at: datetime | None = None) -> QuerySet[Authorisation]:
    """Find every authorisation that holds at ``at``, as known then, by person, family and activity."""
    rows = Authorisation.objects.each_in_force(*KEYS, at=at, known_at=known_at)
    held: QuerySet[Authorisation] = rows.filter(not_lapsed(local_date(at)), withdrawn=False)
    return held.select_related("person", "family").order_by("person__name", "family__name", "activity", "pk")


def not_lapsed(day: date) -> Q:
    """Give the condition “its term reaches to the end of that day at least”."""
    return Q(lapses_on=None) | Q(lapses_on__gte=day)


def rows_to_withdraw(
    person: Person, activity: Activity | str, family: Family, now: datetime
) -> list[datetime]:
    """Give the instants at which a withdrawal must stand: now, and wherever a row would begin; none: nothing held."""
    rows = Authorisation.objects.filter(
        person=person, activity=str(activity), family=family, recorded_at__lte=now
    )
    later = (
        rows.filter(valid_from__gt=now).order_by("valid_from").values_list("valid_from", flat=True).distinct()
    )
    begin = [at for at in later if _holds(rows.in_force(at, now))]
    return [now, *begin] if begin or _holds(rows.in_force(now)) else []


def held_by(person: Person, now: datetime) -> list[tuple[Activity, Family]]:
    """List what a person is authorised for, now or from a later day on, whether or not its term has run out."""
    rows = Authorisation.objects.filter(person=person, recorded_at__lte=now).order_by("family", "activity")
    known = {(row.activity, row.family_id): row.family for row in rows.select_related("family")}
    asked = [(Activity(activity), family) for (activity, _pk), family in known.items()]
    return [
        (activity, family) for activity, family in asked if rows_to_withdraw(person, activity, family, now)
    ]


def _holds(row: Authorisation | None) -> bool:
    return row is not None and not row.withdrawn


def history_of(person: Person) -> QuerySet[Authorisation]:
    """Find every row about what a person was authorised for, newest first."""
    rows = Authorisation.objects.filter(person=person).select_related("family")
    return rows.order_by("-valid_from", "-recorded_at", "-pk")


def lapsing(today: date, until: date) -> list[Authorisation]:
    """List the authorisations whose term ends between two days and that no later row goes on from."""
    rows = Authorisation.objects.each_in_force(*KEYS, at=END_OF_TIME)
    ends: QuerySet[Authorisation] = rows.filter(
        lapses_on__gte=today, lapses_on__lte=until, withdrawn=False, person__is_active=True
    )
    return list(ends.select_related("person", "family").order_by("lapses_on", "person__name", "pk"))


def people() -> QuerySet[Person]:
    """Find everybody with an account."""
    return Person.objects.select_related("department").prefetch_related("groups")


def keepers() -> QuerySet[Person]:
    """Find everybody who can manage people: without one of them nobody gets in any more."""
    return Person.objects.filter(is_active=True, groups__permissions__codename="manage_people").distinct()


def names_of(ids: Collection[int]) -> Mapping[int, str]:
    """Give the names of people by their ids."""
    return dict(Person.objects.filter(pk__in=ids).values_list("pk", "name"))


def people_called(text: str) -> list[int]:
    """Find the ids of those whose user name or name is the text, whatever the capitals."""
    found = Person.objects.filter(Q(username__iexact=text) | Q(name__iexact=text))
    return list(found.order_by("pk").values_list("pk", flat=True)[:20])


def has_second_factor(person: Person) -> bool:
    """Say whether a person signs in with a second factor."""
    return bool(
        Authenticator.objects.filter(user=person).exclude(type=Authenticator.Type.RECOVERY_CODES).exists()
    )


def sign_ins_of(person: Person) -> QuerySet[UserSession]:
    """Find where a person signed in and did not sign out; some of them may have run out since."""
    found: QuerySet[UserSession] = UserSession.objects.filter(user=person).order_by("-created_at", "-pk")
    return found


def token_in_use(token_sha256: str) -> ApiToken | None:
    """Find the token of that hash, unless it was revoked or its person has no account any more."""
    rows = ApiToken.objects.filter(revoked_at=None, person__is_active=True).select_related("person")
    return rows.filter(token_sha256=token_sha256).first()


def tokens_of(person: Person) -> QuerySet[ApiToken]:
    """Find the tokens of a person that still work, newest first."""
    return ApiToken.objects.filter(person=person, revoked_at=None)


@dataclass(frozen=True)
class RoleTable:
    """Which role may do what: the roles, and for each permission its name and whether each role holds it."""

    roles: list[str]
    rows: list[tuple[str, list[bool]]]


def role_table() -> RoleTable:
    """Read from the database who may do what; a laboratory may have widened a role there."""
    groups = {group.name: group for group in Group.objects.prefetch_related("permissions")}
    roles: list[str] = [role.value for role in Role if role.value in groups]
    held = {name: {row.codename for row in groups[name].permissions.all()} for name in roles}
    wanted = sorted(declared.values(), key=lambda one: one.name)
    return RoleTable(roles, [(one.name, [one.codename in held[name] for name in roles]) for one in wanted])
