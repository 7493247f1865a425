"""Who is told: the custodian first, the department's recipients from the due day on, the manager what is late.

A gauge whose custodian has no account in use or no mail address goes to the department's recipients from the first
day, and where there are none, to the manager, who is told that nobody else was.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from instruments.reminders.models import Reminder
from instruments.reminders.queries import Thing
from labsys.accounts.models import Person
from labsys.accounts.queries import people
from labsys.journal.door import hash_of
from labsys.journal.roles import Role
from labsys.laboratory.queries import agreement_in_force

KEY_LENGTH = 64


@dataclass(frozen=True)
class Recipient:
    """Somebody who gets a message: who, as a text; where; and whether as manager."""

    key: str
    address: str
    is_manager: bool = False


class Audience:
    """Answers who is told a thing, asking each agreement and the people once."""

    def __init__(self, now: datetime) -> None:
        self.now = now
        reachable = [person for person in people() if person.is_active and person.email]
        self.by_address = {person.email.casefold(): person for person in reachable}
        self.managers = [
            self._person(person, manager=True)
            for person in reachable
            if Role.MANAGER in {group.name for group in person.groups.all()}
        ]
        self._agreed: dict[tuple[int, int], list[Recipient]] = {}

    def of(self, thing: Thing) -> list[Recipient]:
        """List who is told a thing, each once; empty only where there is no manager with a mail address either."""
        custodian = self._custodian(thing)
        found = list(custodian)
        if not custodian or _concerns_the_department(thing):
            found += self._department(thing)
        if not found or _is_late(thing):
            found += self.managers
        return list({one.key: one for one in found}.values())

    def reaches_only_managers(self, thing: Thing) -> bool:
        """Say whether nobody who has the gauge can be told by mail."""
        return not self._custodian(thing) and not self._department(thing)

    def _custodian(self, thing: Thing) -> list[Recipient]:
        person = thing.gauge.custodian
        return [self._person(person)] if person and person.is_active and person.email else []

    def _department(self, thing: Thing) -> list[Recipient]:
        gauge = thing.gauge
        pair = (gauge.department_id, gauge.model.family_id)
        if pair not in self._agreed:
            agreed = agreement_in_force(gauge.department, gauge.model.family, self.now)
            self._agreed[pair] = [self._address(text) for text in (agreed.recipients if agreed else [])]
        return self._agreed[pair]

    def _address(self, text: str) -> Recipient:
        # One digest per person and day: an agreed address that is somebody's own is that person.
        known = self.by_address.get(text.casefold())
        return self._person(known) if known else Recipient(key_of(text), text)

    def _person(self, person: Person, *, manager: bool | None = None) -> Recipient:
        key = f"person:{person.pk}"
        if manager is None:
            manager = key in {one.key for one in getattr(self, "managers", [])}
        return Recipient(key, person.email, manager)


def key_of(address: str) -> str:
    """Name a recipient by the address; one too long for the ledger's column by its hash, so that no two are taken
    for one.
    """
    key = f"address:{address.casefold()}"
    return key if len(key) <= KEY_LENGTH else f"address:{hash_of(address.casefold())[:40]}"


def _concerns_the_department(thing: Thing) -> bool:
    return thing.about == Reminder.About.NOT_PRESENTED or (
        thing.about == Reminder.About.DUE and thing.stage >= 0
    )


def _is_late(thing: Thing) -> bool:
    return thing.about == Reminder.About.NOT_PRESENTED or thing.stage > 0


def newest(things: Iterable[Thing]) -> list[Thing]:
    """Keep of several distances to one due date the last one come: after days off nobody is told four times at once."""
    last: dict[tuple[int, str, str], Thing] = {}
    for thing in things:
        key = (thing.gauge.pk, thing.about, thing.source)
        if key not in last or last[key].stage < thing.stage:
            last[key] = thing
    return list(last.values())
