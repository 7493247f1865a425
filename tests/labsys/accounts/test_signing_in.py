"""Signing in as people do it: on the pages of the sign-in library in our own look."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value, yield_hotp_counters_from_time
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from zeal import zeal_ignore

from labsys.accounts.models import Person
from labsys.accounts.operations import (
    AccountClosed,
    NoSecondFactor,
    NotSignedIn,
    deactivate,
    end_sign_ins,
    offer_way_in,
    take_off_second_factor,
)
from labsys.accounts.queries import has_second_factor, sign_ins_of
from labsys.journal.models import JournalEntry
from labsys.journal.reasons import ReasonMissing
from labsys.journal.roles import NotAllowed
from tests.labsys.conftest import PASSWORD

pytestmark = pytest.mark.django_db

LOGIN = "/account/login/"
NEW = "another four words altogether"
NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def sign_in(username: str, password: str = PASSWORD, client: Client | None = None) -> Client:
    client = client or Client()
    client.post(LOGIN, {"login": username, "password": password})
    return client


def is_in(client: Client) -> bool:
    with zeal_ignore():  # a dead session is looked for more than once
        return bool(client.get("/account/").status_code == 200)


def acts() -> list[str]:
    return [entry.act for entry in JournalEntry.objects.order_by("sequence")]


@pytest.fixture
def technician(person: Callable[[str], Person]) -> Person:
    return person("technician")


@pytest.fixture
def manager(person: Callable[[str], Person]) -> Person:
    return person("manager")


def test_a_sign_in_lasts_one_shift_and_ends_with_the_browser(technician: Person, time_machine: Any) -> None:
    time_machine.move_to(NOW)
    client = sign_in("technician")
    cookie = client.cookies["sessionid"]
    assert cookie["max-age"] == "" and cookie["expires"] == "", "the browser forgets it when it is closed"
    time_machine.move_to(NOW + timedelta(hours=11, minutes=59))
    assert is_in(client)
    time_machine.move_to(NOW + timedelta(hours=12, minutes=1))
    assert not is_in(client)


def test_nobody_is_asked_to_be_remembered(db: None) -> None:
    text = Client().get(LOGIN).content.decode()
    assert "emember" not in text
    assert re.findall(r'name="(\w+)"', text).count("password") == 1


def test_a_wrong_password_is_said_and_logged_and_says_not_who_exists(
    technician: Person, caplog: pytest.LogCaptureFixture
) -> None:
    answers = []
    with caplog.at_level(logging.WARNING, logger="labsys.accounts.adapter"):
        for name in ("technician", "nobody"):
            answer = Client().post(LOGIN, {"login": name, "password": "wrong wrong wrong"})
            answers.append(
                re.findall(r'<li><a href="#[^"]*">([^<]+)|<li>([^<]+)</li>', answer.content.decode())
            )
    assert answers[0] == answers[1] and answers[0]
    assert "failed to sign in as 'technician' from 127.0.0.1" in caplog.text


@pytest.fixture
def limits(settings: Any) -> Iterator[None]:
    """The limits as the program has them; the other tests run without."""
    settings.ACCOUNT_RATE_LIMITS = {}
    cache.clear()
    yield
    cache.clear()


def test_after_five_wrong_passwords_even_the_right_one_waits(
    technician: Person, limits: None, time_machine: Any
) -> None:
    time_machine.move_to(NOW)
    for _ in range(5):
        assert not is_in(sign_in("technician", "wrong wrong wrong"))
    assert not is_in(sign_in("technician"))
    time_machine.move_to(NOW + timedelta(minutes=4, seconds=50))
    assert not is_in(sign_in("technician"))
    time_machine.move_to(NOW + timedelta(minutes=10))
    assert is_in(sign_in("technician"))


def test_many_names_from_one_machine_wait_too(technician: Person, limits: None) -> None:
    for number in range(10):
        sign_in(f"nobody-{number}", "wrong wrong wrong")
    assert not is_in(sign_in("technician"))


def test_an_expired_sign_in_under_htmx_sends_the_browser_and_shows_no_page_in_a_page(
    technician: Person, time_machine: Any
) -> None:
    time_machine.move_to(NOW)
    client = sign_in("technician")
    time_machine.move_to(NOW + timedelta(days=1))
    headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/lab/people/?role=floor"}
    with zeal_ignore():
        answer = client.get("/lab/people/", headers=headers)
    assert answer.status_code == 401
    assert answer["HX-Redirect"] == f"{LOGIN}?next=%2Flab%2Fpeople%2F%3Frole%3Dfloor"
    assert b"<form" not in answer.content


def test_nobody_signs_up(db: None) -> None:
    for answer in (
        Client().get("/account/signup/"),
        Client().post("/account/signup/", {"username": "a", "password1": NEW, "password2": NEW}),
    ):
        assert "Nobody signs up here" in answer.content.decode()
    assert not Person.objects.exists()


def test_a_closed_account_says_so_to_who_knows_its_password(technician: Person, manager: Person) -> None:
    deactivate(person=technician, reason="left", by=manager, now=NOW)
    Person.objects.filter(pk=technician.pk).update(password=Person.objects.get(pk=manager.pk).password)
    answer = Client().post(LOGIN, {"login": "technician", "password": PASSWORD}, follow=True)
    assert "This account is closed" in answer.content.decode()


def way_in(client: Client, whom: Person, **given: str) -> str:
    """Make a way in on the page and give its address."""
    answer = client.post(reverse("person-way-in", args=[whom.pk]), {"reason": "forgotten", **given})
    match = re.search(r"http://testserver(/account/password/reset/key/[\w-]+/)", answer.content.decode())
    assert match is not None, answer.content.decode()
    return match[1]


def choose(address: str, password: str) -> str:
    client = Client()
    page = client.get(address, follow=True)
    at = page.redirect_chain[-1][0] if page.redirect_chain else address
    answer = client.post(at, {"password1": password, "password2": password}, follow=True)
    return page.content.decode() + answer.content.decode()


def test_a_way_in_opens_once(technician: Person, signed_in: Callable[[str], Client]) -> None:
    address = way_in(signed_in("manager"), technician)
    assert is_in(sign_in("technician")), "until it is used the old password works"
    address = way_in(signed_in("manager"), technician)
    assert "Your password is chosen" in choose(address, NEW)
    assert not is_in(sign_in("technician"))
    assert is_in(sign_in("technician", NEW))
    assert "This way in is closed" in choose(address, PASSWORD)
    assert is_in(sign_in("technician", NEW))


def test_a_way_in_and_what_it_leads_to_are_journalled_and_the_key_is_not(
    technician: Person, signed_in: Callable[[str], Client]
) -> None:
    address = way_in(signed_in("manager"), technician)
    choose(address, NEW)
    assert acts()[-2:] == ["accounts.offer-way-in", "accounts.set-password"]
    offered, chosen = list(JournalEntry.objects.order_by("sequence"))[-2:]
    assert (offered.actor_name, offered.reason) == ("The manager", "forgotten")
    assert chosen.actor_name == "The technician"
    key = address.rstrip("/").rpartition("/")[2]
    assert not JournalEntry.objects.filter(canonical__contains=key.partition("-")[2]).exists()
    assert not JournalEntry.objects.filter(canonical__contains=NEW).exists()


def test_a_way_in_closes_after_a_day(
    technician: Person, signed_in: Callable[[str], Client], time_machine: Any
) -> None:
    time_machine.move_to(NOW)
    address = way_in(signed_in("manager"), technician)
    time_machine.move_to(NOW + timedelta(hours=24, minutes=1))
    assert "This way in is closed" in choose(address, NEW)


def test_a_way_in_closes_with_a_sign_in(
    technician: Person, signed_in: Callable[[str], Client], time_machine: Any
) -> None:
    time_machine.move_to(NOW)
    address = way_in(signed_in("manager"), technician)
    time_machine.move_to(NOW + timedelta(minutes=1))
    sign_in("technician")
    assert "This way in is closed" in choose(address, NEW)


def test_a_password_somebody_knows_stops_working_at_once(
    technician: Person, signed_in: Callable[[str], Client]
) -> None:
    client = sign_in("technician")
    way_in(signed_in("manager"), technician, lock="on")
    assert not is_in(client)
    assert not is_in(sign_in("technician"))


@pytest.mark.parametrize("password", ["short", "password1234"])
def test_a_weak_password_is_not_taken(
    password: str, technician: Person, signed_in: Callable[[str], Client]
) -> None:
    text = choose(way_in(signed_in("manager"), technician), password)
    assert "Your password is chosen" not in text
    assert not is_in(sign_in("technician", password))


def test_nothing_is_reset_by_mail(technician: Person) -> None:
    assert "None is sent by mail" in Client().get("/account/password/reset/").content.decode()
    answer = Client().post("/account/password/reset/", {"email": technician.email})
    assert answer.status_code == 405
    assert mail.outbox == []
    text = Client().get(LOGIN).content.decode()
    assert 'href="/account/password/reset/"' in text


def test_a_way_in_is_the_managers_to_give(technician: Person, manager: Person) -> None:
    with pytest.raises(NotAllowed):
        offer_way_in(person=manager, lock=False, reason="x", by=technician, now=NOW)
    with pytest.raises(ReasonMissing):
        offer_way_in(person=technician, lock=False, reason=" ", by=manager, now=NOW)
    deactivate(person=technician, reason="left", by=manager, now=NOW)
    with pytest.raises(AccountClosed):
        offer_way_in(person=technician, lock=False, reason="x", by=manager, now=NOW)


def test_a_changed_password_ends_every_other_sign_in(technician: Person) -> None:
    here, there = sign_in("technician"), sign_in("technician")
    wanted = {"oldpassword": PASSWORD, "password1": NEW, "password2": NEW}
    here.post("/account/password/change/", wanted)
    assert is_in(here) and not is_in(there)
    assert acts()[-1] == "accounts.set-password"


def figures_of(secret: str) -> str:
    """What an authenticator shows now (RFC 6238)."""
    return str(format_hotp_value(hotp_value(secret, next(iter(yield_hotp_counters_from_time())))))


def set_up(client: Client) -> str:
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    page = client.get("/account/second-factor/totp/activate/")
    secret = re.search(r'<code class="hash">(\w+)</code>', page.content.decode())
    assert secret is not None
    client.post("/account/second-factor/totp/activate/", {"code": figures_of(secret[1])})
    return str(secret[1])


def test_the_second_factor_is_asked_for_once_it_is_on(
    technician: Person, time_machine: Any, django_capture_on_commit_callbacks: Any
) -> None:
    time_machine.move_to(NOW)
    with django_capture_on_commit_callbacks(execute=True):
        secret = set_up(sign_in("technician"))
    assert has_second_factor(technician)
    assert "accounts.change-second-factor" in acts()
    time_machine.move_to(NOW + timedelta(minutes=5))
    client = sign_in("technician")
    assert not is_in(client), "the password alone isn't enough"
    client.post("/account/second-factor/authenticate/", {"code": "000000"})
    assert not is_in(client)
    client.post("/account/second-factor/authenticate/", {"code": figures_of(secret)})
    assert is_in(client)


def test_a_recovery_code_opens_once(technician: Person, time_machine: Any) -> None:
    time_machine.move_to(NOW)
    client = sign_in("technician")
    set_up(client)
    client.post("/account/second-factor/recovery-codes/generate/", {})
    text = client.get("/account/second-factor/recovery-codes/").content.decode()
    code = re.findall(r"<li><code>(\w+)</code>", text)[0]
    for opens in (True, False):
        other = sign_in("technician")
        other.post("/account/second-factor/authenticate/", {"code": code})
        assert is_in(other) == opens


def test_a_lost_second_factor_is_taken_off_by_who_manages_people(
    technician: Person, manager: Person, signed_in: Callable[[str], Client]
) -> None:
    set_up(sign_in("technician"))
    with pytest.raises(NotAllowed):
        take_off_second_factor(person=technician, reason="lost", by=technician, now=NOW)
    address = reverse("person-second-factor", args=[technician.pk])
    signed_in("manager").post(address, {"reason": "phone lost, seen in person"})
    assert not has_second_factor(technician)
    assert is_in(sign_in("technician"))
    with pytest.raises(NoSecondFactor):
        take_off_second_factor(person=technician, reason="again", by=manager, now=NOW)


def test_a_lost_tablet_is_signed_out_by_its_person_or_the_manager(
    technician: Person, manager: Person
) -> None:
    here, there = sign_in("technician"), sign_in("technician")
    with zeal_ignore():  # the library asks for the person once per sign-in
        assert here.get("/account/sessions/").content.decode().count('<th scope="row"') == 2
        here.post("/account/sessions/")
    assert is_in(here) and not is_in(there)
    assert end_sign_ins(person=technician, reason="tablet lost", by=manager, now=NOW) == 1
    assert not is_in(here)
    assert not sign_ins_of(technician).exists()
    with pytest.raises(NotSignedIn):
        end_sign_ins(person=technician, reason="again", by=manager, now=NOW)
