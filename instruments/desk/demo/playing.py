"""A technician of the demo laboratory at the bench: everything goes in as envelopes, in the order of the procedure."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from instruments.measuring.envelope import Envelope
from instruments.measuring.evaluation import ground_of, prospect_of
from instruments.measuring.models import Point, Run, Session
from instruments.measuring.open_items import looks_of
from instruments.measuring.operations import take
from instruments.measuring.queries import current_run
from instruments.measuring.typed import FITS, MISSES
from instruments.measuring.zeros import has_zero, is_fixed, set_to_mm
from instruments.procedures.queries import content_of
from instruments.procedures.scales import Scale, scale_of, zero_scale
from labsys.accounts.models import Person
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.exact import plain
from labsys.metrology.units import Unit, from_mm, to_mm

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
        if has_zero(self.content):
            self.send("zero", run=run.pk, kind="as-found", raw=self.zero(Decimal(zero)))
            if not is_fixed(self.session.gauge.model, self.content):
                self.send("zero", run=run.pk, kind="set", raw=self.zero())

    def measure(self, error_of: ErrorOf) -> None:
        """Take every point with the error it shows, as the display or scale would show it, and verify the zero."""
        run, ground = self.run, ground_of(self.run)
        for point in run.points.filter(void=None).order_by("sequence", "attempt"):
            held = point.nominal_mm if self.content.series_of(point.function) is None else None
            expected = prospect_of(point, ground).held_mm if held is None else held
            for _repeat in range(self.content.repeats_at(point.function)):
                self.send(
                    "reading", point=point.pk, raw=self.shown(point.function, expected + error_of(point))
                )
        if has_zero(self.content):
            self.send("zero", run=run.pk, kind="closing", raw=self.zero())

    def shown(self, code: str, value_mm: Decimal) -> str:
        """Write a value as the scale shows it: a whole number of what can be read; bands in halves, a fit in words."""
        series = self.content.series_of(code)
        if series is not None and series.reads == "attribute":
            return FITS if value_mm else MISSES
        if series is not None and series.band_mm is not None:
            return f"{plain(round(value_mm / series.band_mm * 2) / Decimal(2)):f}"
        return _rounded(value_mm, scale_of(code, self.session.gauge.model, self.content))

    def zero(self, off: Decimal = Decimal(0)) -> str:
        """Write a zero that is ``off`` in the unit of its scale, as the scale shows it."""
        model = self.session.gauge.model
        scale = zero_scale(model, self.content)
        return _rounded(set_to_mm(model, self.content) + to_mm(off, scale.unit), scale)


def _rounded(value_mm: Decimal, scale: Scale) -> str:
    if scale.unit is Unit.ARCMIN:
        return angle_text(round(value_mm / scale.step_mm) * scale.step_mm, scale.unit)
    value = from_mm(value_mm, scale.unit, decimals=9)
    return f"{plain(round(value / scale.step) * scale.step):f}"
