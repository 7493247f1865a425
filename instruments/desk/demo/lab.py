"""Builds the demo laboratory in an empty database, through the operations alone."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from instruments.desk.demo.people import PEOPLE
from labsys.accounts.operations import register_person
from labsys.journal.door import Actor

LOADER = Actor("job:demo", "Demo loader", "job")


@transaction.atomic
def load(*, now: datetime) -> None:
    """Fill the empty database; ``now`` is the instant at which the demo's history has arrived."""
    for person in PEOPLE:
        register_person(
            username=person.username,
            name=person.name,
            email=f"{person.username}@demo.invalid",
            password=person.password,
            roles=(person.role,),
            department=None,
            by=LOADER,
            now=now,
        )
