"""Pages of people and of everybody's own account: what they show, the act they call, how many questions they ask."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labsys.accounts.models import Activity, ApiToken, Authorisation, Person
from labsys.accounts.operations import Grant, authorise, issue_token, register_person
from labsys.accounts.queries import authorisation_in_force
from labsys.journal.models import JournalEntry
from labsys.journal.roles import Role
from labsys.laboratory.models import Family
from labsys.laboratory.operations import add_department, add_family
from labsys.laboratory.queries import local_date
from tests.labsys.conftest import SETUP, START

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def family(db: None) -> Family:
    return add_family(
        code="caliper", name="Caliper", bench_hours=Decimal("0.75"), interval_months=12, by=SETUP, now=START
    )


@pytest.fixture
def manager(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("manager")


def grant(person: Person, family: Family, at: datetime = START, **more: Any) -> Authorisation:
    wanted = Grant(**{"person": person, "activity": Activity.MEASURE, "family": family, **more})
    return authorise(grant=wanted, valid_from=at, by=SETUP, now=at)


def cells(client: Client, address: str) -> list[dict[str, Any]]:
    answer = client.get(address)
    assert answer.status_code == 200
    return [row.cells for row in answer.context["table"].rows]


def names(client: Client, query: str) -> list[str]:
    return [cell["username"] for cell in cells(client, f"{reverse('people')}?{query}")]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("text=tech", ["technician"]),
        ("text=the+TECH", ["technician"]),
        ("role=floor", ["floor"]),
        ("account=closed", []),
        ("order=-username&account=open", ["technician", "manager", "floor"]),
        ("department=SH", ["floor"]),
    ],
)
def test_people_are_found(
    query: str, found: list[str], person: Callable[[str], Person], manager: Client
) -> None:
    shafts = add_department(code="SH", name="Shafts", contact="", by=SETUP, now=START)
    person("technician")
    Person.objects.filter(pk=person("floor").pk).update(department=shafts)
    assert names(manager, query) == found


def test_somebody_new_gets_an_account_and_then_a_way_in(manager: Client) -> None:
    given = {"username": "Anna.B", "name": "Anna B", "email": "", "roles": ["technician", "reviewer"]}
    answer = manager.post(reverse("person-register"), given)
    made = Person.objects.get(username="anna.b")
    assert answer.headers["Location"] == reverse("person-way-in", args=[made.pk])
    assert sorted(group.name for group in made.groups.all()) == ["reviewer", "technician"]
    assert not made.has_usable_password()


def test_what_the_tables_refuse_stands_beside_its_field(manager: Client) -> None:
    given = {"username": "MANAGER", "name": "x", "roles": ["floor"]}
    answer = manager.post(reverse("person-register"), given)
    assert answer.status_code == 422
    assert "has this user name already" in str(answer.context["form"].errors["username"])
    assert Person.objects.count() == 1


def test_a_person_is_authorised_and_it_is_withdrawn(
    person: Callable[[str], Person], manager: Client, family: Family
) -> None:
    technician, today = person("technician"), local_date(timezone.now())
    given = {
        "activity": "measure", "family": family.pk, "valid_from": today, "lapses_on": today + 365 * DAY,
        "evidence": "three supervised calipers", "supervised": "on",
    }  # fmt: skip
    manager.post(reverse("person-authorise", args=[technician.pk]), given)
    row = Authorisation.objects.get()
    assert (row.granted_by, row.supervised) == ("The manager", True)
    assert authorisation_in_force(technician, Activity.MEASURE, family, timezone.now()) == row
    text = manager.get(reverse("person", args=[technician.pk])).content.decode()
    assert "under supervision" in text and "three supervised calipers" in text
    manager.post(reverse("authorisation-withdraw", args=[row.pk]), {"reason": "failed the comparison"})
    assert authorisation_in_force(technician, Activity.MEASURE, family, timezone.now()) is None
    again = manager.post(reverse("authorisation-withdraw", args=[row.pk]), {"reason": "once more"})
    assert again.status_code == 422
    assert "nothing to withdraw" in again.content.decode()


def test_the_refusal_of_the_act_stands_beside_the_day(
    person: Callable[[str], Person], manager: Client, family: Family
) -> None:
    given = {
        "activity": "measure", "family": family.pk, "valid_from": "2026-05-01", "lapses_on": "2026-04-01",
        "evidence": "x",
    }  # fmt: skip
    answer = manager.post(reverse("person-authorise", args=[person("technician").pk]), given)
    assert answer.status_code == 422
    assert "would lapse on 2026-04-01" in str(answer.context["form"].errors["lapses_on"])


def test_the_day_of_authorisations_can_be_chosen(
    person: Callable[[str], Person], manager: Client, family: Family
) -> None:
    technician = person("technician")
    grant(technician, family, evidence="first", lapses_on=date(2026, 2, 10))
    grant(technician, family, START + 20 * DAY, evidence="second", lapses_on=date(2036, 2, 10))
    for page in (reverse("authorisations"), reverse("person", args=[technician.pk])):
        then = manager.get(f"{page}?on=2026-01-10").content.decode()
        now = manager.get(page).content.decode()
        assert "first" in then and "As on" in then
        assert "second" in now
    shown = cells(manager, f"{reverse('authorisations')}?on=2026-01-10")
    assert [cell["evidence"] for cell in shown] == ["first"]
    assert cells(manager, f"{reverse('authorisations')}?on=2026-01-01") == []
    assert (
        "names no day that has been" in manager.get(f"{reverse('authorisations')}?on=soon").content.decode()
    )


def test_what_lapses_soon_is_marked_and_found(
    person: Callable[[str], Person], manager: Client, family: Family
) -> None:
    today = local_date(timezone.now())
    grant(person("technician"), family, lapses_on=today + 60 * DAY)
    grant(person("reviewer"), family, lapses_on=today + 61 * DAY)
    found = cells(manager, f"{reverse('authorisations')}?lapses=soon")
    assert len(found) == 1 and "soon" in found[0]["lapses"]
    flagged = {cell["username"]: "soon" in cell["lapses"] for cell in cells(manager, reverse("people"))}
    assert flagged == {"technician": True, "reviewer": False, "manager": False}


def test_each_decision_is_one_page_with_its_reason(person: Callable[[str], Person], manager: Client) -> None:
    pk = person("technician").pk
    person("administrator")
    manager.post(reverse("person-change", args=[pk]), {"name": "Tech One", "reason": "two now"})
    manager.post(reverse("person-roles", args=[pk]), {"roles": ["auditor"], "reason": "moves on"})
    manager.post(reverse("person-close", args=[pk]), {"reason": "left"})
    manager.post(reverse("person-reopen", args=[pk]), {"reason": "came back"})
    done = JournalEntry.objects.filter(subject=f"person:{pk}").order_by("sequence")
    assert [(entry.act.partition(".")[2], entry.reason) for entry in done][1:] == [
        ("change-person", "two now"),
        ("set-roles", "moves on"),
        ("deactivate", "left"),
        ("reactivate", "came back"),
    ]
    for page in ("person-change", "person-roles", "person-close", "person-way-in", "person-sign-ins"):
        assert manager.post(reverse(page, args=[pk]), {"reason": " "}).status_code == 422


def test_the_last_manager_reads_why_not(person: Callable[[str], Person], manager: Client) -> None:
    pk = person("manager").pk
    answer = manager.post(reverse("person-roles", args=[pk]), {"roles": ["floor"], "reason": "x"})
    assert answer.status_code == 422
    assert "nobody could manage people" in answer.content.decode()


def test_mail_addresses_are_for_those_who_manage_people(
    person: Callable[[str], Person], manager: Client, signed_in: Callable[[str], Client]
) -> None:
    address = reverse("person", args=[person("technician").pk])
    assert "technician@pump-works.example" in manager.get(address).content.decode()
    text = signed_in("auditor").get(address).content.decode()
    assert "@pump-works.example" not in text
    assert reverse("person-close", args=[person("technician").pk]) not in text


def test_roles_are_shown_as_the_database_has_them(signed_in: Callable[[str], Client]) -> None:
    table = signed_in("auditor").get(reverse("roles")).context["table"]
    rows = {name: dict(zip(table.roles, holds, strict=True)) for name, holds in table.rows}
    assert set(table.roles) == {role.value for role in Role}
    assert rows["Read the journal"] == {
        "manager": True, "technician": False, "reviewer": True, "floor": False, "auditor": True,
        "administrator": True,
    }  # fmt: skip


def test_a_token_is_shown_once_and_opens(signed_in: Callable[[str], Client]) -> None:
    client = signed_in("technician")
    answer = client.post(reverse("token-issue"), {"token_name": "due list"})
    text = re.search(r"lab_[\w-]+", answer.content.decode())
    assert text is not None
    assert "no-store" in answer["Cache-Control"] or "no-cache" in answer["Cache-Control"]
    assert text[0] not in client.get(reverse("account")).content.decode()
    headers = {"Authorization": f"Bearer {text[0]}"}
    assert Client().get("/api/v1/gauges/", headers=headers).status_code == 200
    client.post(reverse("token-revoke", args=[ApiToken.objects.get().pk]))
    assert Client().get("/api/v1/gauges/", headers=headers).status_code == 401


def test_a_name_in_use_stands_beside_its_field(
    person: Callable[[str], Person], signed_in: Callable[[str], Client]
) -> None:
    issue_token(token_name="due list", by=person("technician"), now=START)
    answer = signed_in("technician").post(reverse("token-issue"), {"token_name": "due list"})
    assert answer.status_code == 422
    assert "Revoke it first" in answer.content.decode()


def test_nobody_revokes_another_persons_token(
    person: Callable[[str], Person], signed_in: Callable[[str], Client]
) -> None:
    row, _ = issue_token(token_name="due list", by=person("technician"), now=START)
    answer = signed_in("reviewer").post(reverse("token-revoke", args=[row.pk]))
    assert answer.status_code == 409
    assert "belongs to The technician" in answer.content.decode()
    assert signed_in("manager").post(reverse("token-revoke", args=[row.pk])).status_code == 302
    row.refresh_from_db()
    assert row.revoked_at is not None


def test_own_settings_are_stored_or_mended(
    person: Callable[[str], Person], signed_in: Callable[[str], Client]
) -> None:
    client = signed_in("floor")
    client.post(reverse("account-settings"), {"hand": "left", "email": "x@pump-works.example"})
    assert Person.objects.get(username="floor").hand == "left"
    answer = client.post(reverse("account-settings"), {"hand": "both", "email": "nowhere"})
    assert answer.status_code == 422
    assert set(answer.context["settings_form"].errors) == {"hand", "email"}
    assert client.get("/account/email/").headers["Location"] == reverse("account")


@pytest.mark.parametrize("page", ["people", "authorisations"])
def test_more_people_ask_no_more_questions(
    page: str, person: Callable[[str], Person], manager: Client, family: Family
) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert manager.get(reverse(page)).status_code == 200
        return len(counted)

    grant(person("technician"), family)
    few = asked()
    for number in range(30):
        made = register_person(
            username=f"tech-{number}", name=f"Tech {number}", email="", password=None,
            roles=(Role.TECHNICIAN, Role.REVIEWER), department=None, by=SETUP, now=START,
        )  # fmt: skip
        grant(made, family, lapses_on=date(2030, 1, 1))
    assert asked() == few <= 12


def test_a_long_history_asks_no_more_questions(
    person: Callable[[str], Person], manager: Client, family: Family
) -> None:
    technician = person("technician")
    address = reverse("person", args=[technician.pk])

    def asked() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert manager.get(address).status_code == 200
        return len(counted)

    grant(technician, family)
    few = asked()
    for number in range(20):
        grant(technician, family, START + number * DAY)
    assert asked() == few <= 16


def test_times_on_the_page_are_the_laboratorys(
    person: Callable[[str], Person], manager: Client, family: Family
) -> None:
    grant(person("technician"), family, datetime(2026, 7, 1, 22, 30, tzinfo=UTC) - 365 * DAY)
    shown = cells(manager, reverse("authorisations"))
    assert shown[0]["since"] == "2025-07-02"
