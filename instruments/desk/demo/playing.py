"""A technician of the demo laboratory at the bench: everything goes in as envelopes, in the order of the procedure."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from instruments.measuring.envelope import Envelope
from instruments.measuring.evaluation import readable_step
from instruments.measuring.models import Point, Run, Session
from instruments.measuring.open_items import looks_of
from instruments.measuring.operations import take
from instruments.measuring.queries import current_run
from instruments.measuring.zeros import is_fixed
from instruments.procedures.queries import content_of
from labsys.accounts.models import Person
from labsys.metrology.exact import plain
from labsys.metrology.units import Unit, from_mm

ErrorOf = Callable[[Point], Decimal]
"""Gives the error, in mm, that a gauge shows at a point."""


class Bench:
    """One session being worked at; time goes on with every entry."""

    def __init__(self, session: Session, by: Person, now: datetime) -> None:
        self.session = session
        self.by = by
        self.now = now
        self.content = content_of(session.revision)

    @property
    def run(self) -> Run:
        """The run that takes readings now."""
        return current_run(self.session)

    def send(self, what: str, **text: Any) -> Any:
        """Send one envelope, twenty seconds after the last."""
        self.now += timedelta(seconds=20)
        envelope = Envelope(
            client_id=uuid4().hex,
            session_id=self.session.pk,
            kind=what,
            text=json.dumps(text),
            entered_at=self.now,
            device="demo",
        )
        return take(envelope=envelope, by=self.by, now=self.now)

    def prepare(self, temperature_c: str, humidity_percent: str = "46", zero: str = "0") -> None:
        """Look, note the room, read the zero as found and set it."""
        run = self.run
        for look in looks_of(run, self.content):
            self.send("answer", run=run.pk, code=look.code, answer="good")
        self.send("condition", run=run.pk, temperature_c=temperature_c, humidity_percent=humidity_percent)
        self.send("zero", run=run.pk, kind="as-found", raw=zero)
        if not is_fixed(self.session.gauge.model, self.content):
            self.send("zero", run=run.pk, kind="set", raw="0")

    def measure(self, error_of: ErrorOf) -> None:
        """Take every point with the error it shows, as the display or scale would show it, and verify the zero."""
        run = self.run
        for point in run.points.filter(void=None).order_by("sequence", "attempt"):
            self.send("reading", point=point.pk, raw=self.shown(point.nominal_mm + error_of(point)))
        self.send("zero", run=run.pk, kind="closing", raw="0")

    def shown(self, length_mm: Decimal) -> str:
        """Write a length as the gauge shows it: a whole number of what can be read on it."""
        model = self.session.gauge.model
        step = readable_step(model, self.content)
        value = from_mm(length_mm, Unit(model.unit), decimals=9)
        return f"{plain(round(value / step) * step):f}"
