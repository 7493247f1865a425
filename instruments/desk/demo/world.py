"""The demo laboratory while it is being built: its people, places and things by name, and its calendar."""

from __future__ import annotations

import heapq
import itertools
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from instruments.inventory.models import Gauge, GaugeModel
from labsys.accounts.models import Person
from labsys.accounts.operations import SignInProof
from labsys.laboratory.models import Department, Family, Place
from labsys.laboratory.queries import local_date, zone
from standards.register.models import Standard

Deed = Callable[[datetime], None]
SEED = 1725


@dataclass
class World:
    """What has been made so far, by the names that the plant's data use."""

    now: datetime
    rng: random.Random = field(default_factory=lambda: random.Random(SEED))
    people: dict[str, Person] = field(default_factory=dict)
    departments: dict[str, Department] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    families: dict[str, Family] = field(default_factory=dict)
    models: dict[str, GaugeModel] = field(default_factory=dict)
    gauges: dict[str, Gauge] = field(default_factory=dict)
    standards: dict[str, Standard] = field(default_factory=dict)
    _deeds: list[tuple[datetime, int, Deed]] = field(default_factory=list)
    _order: itertools.count[int] = field(default_factory=itertools.count)

    @property
    def today(self) -> date:
        """The laboratory's day at which the history arrives."""
        return local_date(self.now)

    def at(self, days_ago: int, hour: int = 8, minute: int = 0) -> datetime:
        """Give an instant of a working day some days ago; a weekend moves back to its Friday."""
        day = self.today - timedelta(days=days_ago)
        day -= timedelta(days=max(0, day.weekday() - 4))
        return datetime.combine(day, time(hour, minute), tzinfo=zone())

    def plan(self, at: datetime, deed: Deed) -> None:
        """Put a deed into the calendar. One that would lie ahead of now is left out: it hasn't happened yet."""
        if at <= self.now:
            heapq.heappush(self._deeds, (at, next(self._order), deed))

    def live(self) -> None:
        """Do everything in the calendar, day by day; a deed may plan others."""
        while self._deeds:
            at, _order, deed = heapq.heappop(self._deeds)
            deed(at)

    def proof(self, username: str, now: datetime) -> SignInProof:
        """Sign in again as somebody; the demo knows everybody's password, so the slow hash is spared."""
        return SignInProof(self.people[username].pk, now)
