"""Tokens: only the hash is kept, a revoked one opens nothing, and nobody revokes another person's."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request
from rest_framework.test import APIRequestFactory

from labsys.accounts.api import TokenAuthentication
from labsys.accounts.models import ApiToken, Person
from labsys.accounts.operations import TokenNotYours, TokenRevoked, issue_token, revoke_token
from labsys.accounts.queries import tokens_of
from labsys.journal.models import JournalEntry

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@pytest.fixture
def owner(db: None) -> Person:
    return Person.objects.create(username="technician", name="the technician")


@pytest.fixture
def other(db: None) -> Person:
    return Person.objects.create(username="reviewer", name="the reviewer")


def asked_with(header: str) -> Request:
    return Request(APIRequestFactory().get("/", headers={"Authorization": header} if header else {}))


def test_the_text_is_kept_nowhere(owner: Person) -> None:
    row, text = issue_token(token_name="due list", by=owner, now=NOW)
    stored = ApiToken.objects.values().get(pk=row.pk)
    assert len(text) > 40
    assert text not in str(stored)
    assert not JournalEntry.objects.filter(canonical__contains=text).exists()


def test_a_token_opens_in_its_persons_name(owner: Person) -> None:
    _, text = issue_token(token_name="due list", by=owner, now=NOW)
    found = TokenAuthentication().authenticate(asked_with(f"Bearer {text}"))
    assert found is not None and found[0] == owner
    assert ApiToken.objects.get().last_used_on is not None


def test_without_a_token_another_way_may_be_tried(db: None) -> None:
    assert TokenAuthentication().authenticate(asked_with("")) is None
    assert TokenAuthentication().authenticate(asked_with("Basic abc")) is None


@pytest.mark.parametrize("header", ["Bearer", "Bearer lab_wrong", "Bearer a b", "Bearer \xff"])
def test_a_false_token_is_refused(header: str, db: None) -> None:
    with pytest.raises(AuthenticationFailed, match="isn't known"):
        TokenAuthentication().authenticate(asked_with(header))


def test_a_revoked_token_opens_nothing(owner: Person) -> None:
    row, text = issue_token(token_name="due list", by=owner, now=NOW)
    revoke_token(token=row, by=owner, now=NOW + timedelta(days=1))
    with pytest.raises(AuthenticationFailed):
        TokenAuthentication().authenticate(asked_with(f"Bearer {text}"))
    with pytest.raises(TokenRevoked, match="2026-03-03"):
        revoke_token(token=row, by=owner, now=NOW + timedelta(days=2))
    assert not tokens_of(owner).exists()


def test_a_closed_account_opens_nothing(owner: Person) -> None:
    _, text = issue_token(token_name="due list", by=owner, now=NOW)
    Person.objects.update(is_active=False)
    with pytest.raises(AuthenticationFailed):
        TokenAuthentication().authenticate(asked_with(f"Bearer {text}"))


def test_only_the_owner_and_who_manages_people_revoke(owner: Person, other: Person) -> None:
    row, _ = issue_token(token_name="due list", by=owner, now=NOW)
    with pytest.raises(TokenNotYours):
        revoke_token(token=row, by=other, now=NOW)
    other.groups.set(Group.objects.filter(name="manager"))
    revoke_token(token=row, by=Person.objects.get(pk=other.pk), now=NOW)
    row.refresh_from_db()
    assert row.revoked_at == NOW


def test_a_name_is_used_once_at_a_time(owner: Person) -> None:
    row, _ = issue_token(token_name="due list", by=owner, now=NOW)
    with pytest.raises(ValidationError, match="Revoke it first"):
        issue_token(token_name=" due list ", by=owner, now=NOW)
    revoke_token(token=row, by=owner, now=NOW)
    assert issue_token(token_name="due list", by=owner, now=NOW)[0].pk != row.pk
