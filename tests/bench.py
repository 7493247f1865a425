"""A bench that plays a technician through the acts, and the fixtures of a laboratory with one caliper.

Topics and journeys that want it import the fixtures in their conftest.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from instruments.inventory.models import Gauge
from instruments.measuring.envelope import Envelope
from instruments.measuring.models import Point, Reading, Session, Submission
from instruments.measuring.open_items import looks_of
from instruments.measuring.operations import open_session, submit, take
from instruments.measuring.queries import current_run
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of
from instruments.recall.operations import receive
from labsys.accounts.models import Person
from labsys.metrology.exact import plain
from tests import laboratory
from tests.laboratory import Lab
from tests.once import made_once

MORNING = datetime(2025, 6, 3, 7, 0, tzinfo=UTC)
"""When the caliper of these tests is received; measured two hours later."""


@dataclass
class Player:
    """Somebody at the bench: everything typed goes in as an envelope, each a minute after the last."""

    session: Session
    by: Person
    now: datetime
    ids: Any = field(default_factory=lambda: itertools.count(1))

    def send(self, what: str, /, client_id: str | None = None, **text: Any) -> Any:
        """Send one envelope and give what became of it."""
        self.now += timedelta(minutes=1)
        envelope = Envelope(
            client_id=client_id or f"{self.session.pk}-{next(self.ids)}",
            session_id=self.session.pk,
            kind=what,
            text=json.dumps(text),
            entered_at=self.now,
        )
        return take(envelope=envelope, by=self.by, now=self.now)

    @property
    def run(self) -> Any:
        """The run that takes readings now."""
        return current_run(self.session)

    def look(self, **answers: str) -> None:
        """Answer every look with good, but for those named."""
        for look in looks_of(self.run, content_of(self.session.revision)):
            self.send("answer", run=self.run.pk, code=look.code, answer=answers.get(look.code, "good"))

    def room(self, temperature_c: str = "20.0", humidity_percent: str = "45") -> Any:
        """Note the room."""
        return self.send(
            "condition", run=self.run.pk, temperature_c=temperature_c, humidity_percent=humidity_percent
        )

    def zero(self, kind: str, raw: str = "0") -> Any:
        """Read the closed faces."""
        return self.send("zero", run=self.run.pk, kind=kind, raw=raw)

    def begin(self) -> None:
        """Do everything that comes before the first point."""
        self.look()
        self.room()
        self.zero("as-found")
        self.zero("set")

    def points(self) -> list[Point]:
        """List the live points."""
        return list(self.run.points.filter(void=None).order_by("sequence", "attempt"))

    def read(self, point: Point, raw: str) -> Any:
        """Take one reading at a point."""
        return self.send("reading", point=point.pk, raw=raw)

    def read_off(self, error_steps: Callable[[Point], int] = lambda point: 0) -> list[Reading]:
        """Take every live point with an error of so many steps of the display."""
        model = self.session.gauge.model
        factor = Decimal("25.4") if model.unit == "in" else Decimal(1)
        taken = []
        for point in self.points():
            value = point.nominal_mm / factor + model.resolution * error_steps(point)
            taken.append(self.read(point, f"{plain(value):f}"))
        return taken

    def finish(self) -> Submission:
        """Verify the zero and hand in."""
        self.zero("closing")
        self.now += timedelta(minutes=1)
        return submit(session=self.session, by=self.by, now=self.now)


@pytest.fixture(autouse=True)
def _zone(settings: Any) -> None:
    settings.LAB_ZONE = "UTC"


@pytest.fixture
def content() -> Content | None:
    """The content of the procedure; override to change it."""
    return None


@pytest.fixture(scope="module")
def first_day(request: pytest.FixtureRequest) -> Iterator[Callable[[], Lab]]:
    """Set the laboratory up once for a module, unless that has a procedure of its own."""
    with made_once(request, laboratory.build, each="content" in vars(request.module)) as own:
        yield own


@pytest.fixture
def lab(first_day: Callable[[], Lab], db: None, content: Content | None) -> Lab:
    return first_day() if content is None else laboratory.build(content=content)


@pytest.fixture
def gauge(lab: Lab) -> Gauge:
    laboratory.agreed(lab)
    return laboratory.caliper_gauge(lab, laboratory.caliper_model(lab))


@pytest.fixture
def bring(lab: Lab) -> Callable[..., Gauge]:
    def do(gauge: Gauge, at: datetime = MORNING) -> Gauge:
        receive(
            gauge=gauge, condition="clean, complete", damaged=False, place=lab.bench, at=at, by=lab.technician, now=at
        )  # fmt: skip
        return gauge

    return do


@pytest.fixture
def sit(lab: Lab, bring: Callable[..., Gauge]) -> Callable[..., Player]:
    """Receive a gauge and open its session two hours later."""

    def do(gauge: Gauge, at: datetime = MORNING, by: Person | None = None) -> Player:
        bring(gauge, at)
        now = at + timedelta(hours=2)
        person = by or lab.technician
        return Player(open_session(gauge=gauge, place=lab.bench, by=person, now=now), person, now)

    return do


@pytest.fixture
def player(gauge: Gauge, sit: Callable[..., Player]) -> Player:
    return sit(gauge)
