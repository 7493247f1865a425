"""People of every role, made through the acts, and a browser for each."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from labsys.accounts.models import Person
from labsys.accounts.operations import register_person
from labsys.journal.door import Actor
from labsys.journal.roles import Role

SETUP = Actor("job:set-up", "set-up", "administrator")
START = datetime(2026, 1, 5, 8, 0, tzinfo=UTC)
PASSWORD = "four words without sense"


@pytest.fixture
def person(db: None) -> Callable[[str], Person]:
    """Somebody of a role; the same person each time the role is asked for."""
    known: dict[str, Person] = {}

    def of(role: str) -> Person:
        if role not in known:
            known[role] = register_person(
                username=role,
                name=f"The {role}",
                email=f"{role}@pump-works.example",
                password=PASSWORD,
                roles=(Role(role),),
                department=None,
                by=SETUP,
                now=START,
            )
        return known[role]

    return of


@pytest.fixture
def signed_in(person: Callable[[str], Person]) -> Callable[[str], Client]:
    """A browser in which somebody of the role is signed in."""

    def open_as(role: str) -> Client:
        client = Client()
        client.force_login(person(role))
        return client

    return open_as
