"""Acts on people: what they change, what they refuse, what they leave in the journal."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from zeal import zeal_ignore

from labsys.accounts.access import NotAuthorised, require_authorised
from labsys.accounts.models import Activity, ApiToken, Authorisation, Person
from labsys.accounts.operations import (
    AccountClosed,
    Grant,
    LapsesBeforeItBegins,
    NobodyLeft,
    NotHeld,
    OwnAccount,
    PersonData,
    authorise,
    change_person,
    change_settings,
    deactivate,
    issue_token,
    reactivate,
    register_person,
    set_roles,
    withdraw_authorisation,
)
from labsys.accounts.queries import authorisation_in_force, authorisations_in_force, lapsing
from labsys.journal.models import JournalEntry
from labsys.journal.reasons import NothingChanged, ReasonMissing
from labsys.journal.roles import NotAllowed, Role
from labsys.laboratory.models import Family
from labsys.laboratory.operations import add_family
from tests.labsys.conftest import PASSWORD, SETUP, START

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
LATER = START + 30 * DAY
MEASURE, REVIEW = Activity.MEASURE, Activity.REVIEW


@pytest.fixture
def family(db: None) -> Family:
    return add_family(
        code="caliper", name="Caliper", bench_hours=Decimal("0.75"), interval_months=12, by=SETUP, now=START
    )


def grant(person: Person, family: Family, at: datetime = START, **more: Any) -> Authorisation:
    wanted = Grant(**{"person": person, "activity": MEASURE, "family": family, **more})
    return authorise(grant=wanted, valid_from=at, by=SETUP, now=min(at, LATER))


def last_entry() -> JournalEntry:
    return JournalEntry.objects.order_by("-sequence")[0]


@pytest.mark.parametrize("username", ["Anna ", "anna"])
def test_a_user_name_is_told_apart_without_capitals(username: str, person: Callable[[str], Person]) -> None:
    more: dict[str, Any] = {"email": "", "password": None, "department": None, "by": SETUP, "now": START}
    made = register_person(username=username, name="Anna A", roles=(Role.FLOOR,), **more)
    assert made.username == "anna"
    assert not made.has_usable_password()
    with pytest.raises(ValidationError, match="user name"):
        register_person(username="ANNA", name="Anna B", roles=(), **more)


@pytest.mark.parametrize("username", ["", "a b", "äpfel", "-a", "a/b", "a" * 61, "a\n"])
def test_a_user_name_can_be_typed_anywhere(username: str) -> None:
    more: dict[str, Any] = {"email": "", "password": None, "department": None, "by": SETUP, "now": START}
    if username == "a\n":
        assert register_person(username=username, name="A", roles=(), **more).username == "a"
        return
    with pytest.raises(ValidationError, match="small letters"):
        register_person(username=username, name="A", roles=(), **more)


def test_a_correction_keeps_both_in_the_journal(person: Callable[[str], Person]) -> None:
    technician = person("technician")
    data = PersonData(name="The first technician", email=technician.email, department=None)
    change_person(person=technician, data=data, reason="two now", by=person("manager"), now=START)
    entry = last_entry()
    assert entry.before == {"name": "The technician"}
    assert entry.after == {"name": "The first technician"}
    with pytest.raises(NothingChanged):
        change_person(person=technician, data=data, reason="again", by=person("manager"), now=START)
    with pytest.raises(ReasonMissing):
        change_person(person=technician, data=data, reason=" ", by=person("manager"), now=START)


def test_roles_change_what_a_person_may(person: Callable[[str], Person]) -> None:
    technician = person("technician")
    assert not technician.may("labsys.manage_people")
    set_roles(person=technician, roles=(Role.TECHNICIAN, Role.MANAGER), reason="deputy", by=SETUP, now=START)
    assert Person.objects.get(pk=technician.pk).may("labsys.manage_people")
    assert last_entry().after == {"roles": ["manager", "technician"]}


@pytest.mark.parametrize("act", [set_roles, deactivate, change_person, reactivate])
def test_people_are_the_managers_matter(act: Any, person: Callable[[str], Person]) -> None:
    needs: dict[Any, dict[str, Any]] = {
        set_roles: {"roles": ()},
        change_person: {"data": PersonData("x", "", None)},
    }
    more = needs.get(act, {})
    with pytest.raises(NotAllowed):
        act(person=person("floor"), reason="why not", by=person("technician"), now=START, **more)


def test_the_last_who_manages_people_keeps_that(person: Callable[[str], Person]) -> None:
    manager, administrator = person("manager"), person("administrator")
    set_roles(person=administrator, roles=(Role.AUDITOR,), reason="moves on", by=manager, now=START)
    with pytest.raises(NobodyLeft):
        set_roles(person=manager, roles=(Role.TECHNICIAN,), reason="moves on", by=manager, now=START)
    with pytest.raises(NobodyLeft):
        deactivate(person=manager, reason="left", by=SETUP, now=START)
    manager.refresh_from_db()
    assert manager.is_active and manager.may("labsys.manage_people")


def test_closing_an_account_ends_all_it_could_do(
    person: Callable[[str], Person], signed_in: Callable[[str], Client], family: Family
) -> None:
    technician, manager = person("technician"), person("manager")
    browser = signed_in("technician")
    grant(technician, family)
    grant(technician, family, LATER + DAY, activity=REVIEW)
    issue_token(token_name="due list", by=technician, now=START)
    assert browser.get("/account/").status_code == 200
    deactivate(person=technician, reason="left the plant", by=manager, now=LATER)
    assert browser.get("/account/").status_code == 302
    assert ApiToken.objects.get().revoked_at == LATER
    for at in (LATER, LATER + 10 * DAY):
        assert not authorisations_in_force(at).exists()
    # What was so then stays so.
    assert authorisation_in_force(technician, MEASURE, family, LATER - DAY) is not None
    with pytest.raises(NotAuthorised):
        require_authorised(technician, MEASURE, family, LATER - DAY)
    assert not Client().login(username="technician", password=PASSWORD)


def test_an_account_opened_again_begins_with_nothing(
    person: Callable[[str], Person], signed_in: Callable[[str], Client], family: Family
) -> None:
    technician, manager = person("technician"), person("manager")
    browser = signed_in("technician")
    grant(technician, family)
    deactivate(person=technician, reason="leave", by=manager, now=LATER)
    reactivate(person=technician, reason="back", by=manager, now=LATER + DAY)
    with zeal_ignore():  # Django itself looks for the session's successor
        assert browser.get("/account/").status_code == 302, "an old sign-in doesn't come back to life"
    assert authorisation_in_force(technician, MEASURE, family, LATER + DAY) is None
    with pytest.raises(NothingChanged):
        reactivate(person=technician, reason="back", by=manager, now=LATER + DAY)


def test_nobody_closes_their_own_account(person: Callable[[str], Person]) -> None:
    person("administrator")
    with pytest.raises(OwnAccount):
        deactivate(person=person("manager"), reason="tired", by=person("manager"), now=START)


def test_an_authorisation_holds_through_its_last_day(person: Callable[[str], Person], family: Family) -> None:
    technician = person("technician")
    grant(technician, family, lapses_on=date(2026, 2, 27))
    # 22:59 UTC is 23:59 in the laboratory.
    last_minute = datetime(2026, 2, 27, 22, 59, tzinfo=UTC)
    assert authorisation_in_force(technician, MEASURE, family, last_minute) is not None
    assert authorisation_in_force(technician, MEASURE, family, last_minute + timedelta(minutes=1)) is None
    assert (
        list(authorisations_in_force(last_minute)) and not authorisations_in_force(last_minute + DAY).exists()
    )


def test_impossible_authorisations_are_refused(person: Callable[[str], Person], family: Family) -> None:
    technician = person("technician")
    with pytest.raises(LapsesBeforeItBegins, match="2026-01-05 and would lapse on 2026-01-04"):
        grant(technician, family, lapses_on=date(2026, 1, 4))
    deactivate(person=technician, reason="left", by=person("manager"), now=START)
    with pytest.raises(AccountClosed):
        grant(technician, family)


def test_a_withdrawal_ends_what_was_to_begin_later_too(
    person: Callable[[str], Person], family: Family
) -> None:
    technician = person("technician")
    grant(technician, family)
    grant(technician, family, LATER + DAY, lapses_on=date(2030, 1, 1))
    end: dict[str, Any] = {"person": technician, "activity": MEASURE, "family": family, "by": SETUP}
    withdraw_authorisation(**end, reason="failed the check", now=LATER)
    assert authorisation_in_force(technician, MEASURE, family, LATER - DAY) is not None
    for at in (LATER, LATER + DAY, LATER + 100 * DAY):
        assert authorisation_in_force(technician, MEASURE, family, at) is None
    with pytest.raises(
        NotHeld, match="The technician holds no authorisation to measure for the family caliper"
    ):
        withdraw_authorisation(**end, reason="again", now=LATER + DAY)


def test_what_was_known_then_is_told_from_what_is_known_now(
    person: Callable[[str], Person], family: Family
) -> None:
    technician = person("technician")
    wanted = Grant(technician, MEASURE, family)
    authorise(grant=wanted, valid_from=START, by=SETUP, now=START + 3 * DAY)
    assert not authorisations_in_force(START + DAY).exists()
    assert authorisations_in_force(START + DAY, START + 3 * DAY).count() == 1


def test_the_list_and_the_single_answer_agree(person: Callable[[str], Person], family: Family) -> None:
    """Every instant around every row: the one SQL question against the one row that wins."""
    people = [person("technician"), person("reviewer")]
    grant(people[0], family, lapses_on=(START + 40 * DAY).date())
    grant(people[0], family, START + 10 * DAY, supervised=True)
    grant(people[1], family, START + 5 * DAY, lapses_on=(START + 20 * DAY).date())
    withdraw_authorisation(
        person=people[0], activity=MEASURE, family=family, reason="x", by=SETUP, now=START + 15 * DAY
    )
    grant(people[0], family, START + 15 * DAY)  # the same instant, recorded as late: the newer row wins
    for hours in range(0, 24 * 45, 6):
        at = START + timedelta(hours=hours)
        found = {row.pk for row in authorisations_in_force(at)}
        single = {
            row.pk for one in people if (row := authorisation_in_force(one, MEASURE, family, at)) is not None
        }
        assert found == single


def test_what_lapses_soon_and_nothing_goes_on_from(person: Callable[[str], Person], family: Family) -> None:
    technician, reviewer = person("technician"), person("reviewer")
    first = grant(technician, family, lapses_on=date(2026, 3, 1))
    grant(reviewer, family, lapses_on=date(2026, 3, 2))
    grant(reviewer, family, LATER, lapses_on=date(2028, 3, 2))
    assert lapsing(date(2026, 2, 1), date(2026, 4, 1)) == [first]
    assert lapsing(date(2026, 3, 2), date(2026, 4, 1)) == []
    deactivate(person=technician, reason="left", by=person("manager"), now=LATER)
    assert lapsing(date(2026, 2, 1), date(2026, 4, 1)) == []


def test_own_settings_are_ones_own(person: Callable[[str], Person]) -> None:
    technician = person("technician")
    change_settings(hand="left", email="new@pump-works.example", by=technician, now=START)
    technician.refresh_from_db()
    assert (technician.hand, technician.email) == ("left", "new@pump-works.example")
    assert last_entry().before == {"hand": "right", "email": "technician@pump-works.example"}
    with pytest.raises(ValidationError):
        change_settings(hand="left", email="no address", by=technician, now=START)
    with pytest.raises(NothingChanged):
        change_settings(hand="left", email="new@pump-works.example", by=technician, now=START)
