"""What becomes of each kind of arrival: a reading, a strike, an answer, a condition, a zero check.

Each settler runs in the second transaction and may refuse with a named error; the arrival is then set aside.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, ClassVar

from instruments.measuring.envelope import Content, EnvelopeUnreadable
from instruments.measuring.evaluation import is_out_of_tolerance, readable_step
from instruments.measuring.models import (
    Arrival,
    Check,
    Condition,
    Point,
    Reading,
    Run,
    Session,
    Strike,
    ZeroCheck,
)
from instruments.measuring.operations.answering import answer_earlier
from instruments.measuring.operations.gate import require_open
from instruments.measuring.operations.questioning import question_reading, question_zero
from instruments.measuring.operations.zeroing import after_closing
from instruments.procedures.queries import content_of
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.metrology.readings import ParsedReading, parse_reading
from labsys.metrology.units import Unit
from standards.register.models import Standard
from standards.register.queries import require_usable

Settled = Reading | Strike | Check | Condition | ZeroCheck

CLOCK_TOLERANCE = timedelta(seconds=90)


class PointIsVoid(LabError):
    """A void point takes no more readings."""

    code: ClassVar[str] = "point-is-void"
    sentence: ClassVar[str] = "This point is void ({reason}). Take the reading at its newer attempt."


class MeasuredInTheFuture(LabError, ValueError):
    """A measurement time later than now (refusal 13)."""

    code: ClassVar[str] = "measured-in-the-future"
    sentence: ClassVar[str] = (
        "The reading says it was taken at {measured}, later than now ({now}). Check the clock of the device."
    )


class MeasuredBeforeReceipt(LabError, ValueError):
    """A measurement time earlier than the receipt of the gauge (refusal 13)."""

    code: ClassVar[str] = "measured-before-receipt"
    sentence: ClassVar[str] = (
        "The reading says it was taken at {measured}, before the gauge was received ({received}). "
        "Check the clock of the device."
    )


class OutOfToleranceNotStruck(LabError, PermissionError):
    """A reading that is out of tolerance is struck by the reviewer only."""

    code: ClassVar[str] = "out-of-tolerance-not-struck"
    sentence: ClassVar[str] = (
        "This reading is out of tolerance, so only the reviewer may strike it. Take the repeat; both stay visible."
    )


class UnlikelyCondition(LabError, ValueError):
    """A temperature or humidity no room has."""

    code: ClassVar[str] = "unlikely-condition"
    sentence: ClassVar[str] = (
        "Expected {what} between {low} and {high}, found {found}. Read the instrument again."
    )
    field: ClassVar[str | None] = "temperature_c"


class UnknownAnswer(LabError, ValueError):
    """A look is answered good, not good, or does not apply."""

    code: ClassVar[str] = "unknown-answer"
    sentence: ClassVar[str] = (
        "Expected an answer of good, not good or does not apply to “{code}”, found “{found}”."
    )


def _reading(arrival: Arrival, by: Person, now: datetime) -> Reading:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    point = _mine(Point.objects.select_related("run__session"), content.number("point"), session, "point")
    if hasattr(point, "void"):
        raise PointIsVoid(reason=point.void.reason)
    measured_at = content.instant("measured_at", arrival.entered_at or now)
    _refuse_impossible_time(session, measured_at, now)
    parsed = _parse(session, content.text("raw"))
    if content.fields.get("confirmed") is not True:
        question_reading(session, point, parsed)
    reading = Reading.objects.create(
        arrival=arrival,
        point=point,
        raw=content.text("raw").strip(),
        unit=parsed.unit.value,
        value=parsed.value,
        value_mm=parsed.value_mm,
        measured_at=measured_at,
        entered_at=arrival.entered_at or now,
        received_at=arrival.received_at,
        read_by=by,
        device=arrival.device,
        offline=(arrival.received_at - (arrival.entered_at or now)) > timedelta(minutes=1),
        source=content.text("source", Reading.Source.TYPED),
    )
    answer_earlier(arrival, f"read again: {reading.raw}", by, now)
    return reading


def _strike(arrival: Arrival, by: Person, now: datetime) -> Strike:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    readings = Reading.objects.filter(point__run__session=session).select_related("point__run__session")
    reading = readings.filter(pk=content.number("reading")).first()
    reason = content.text("reason")
    if reading is None or reason not in Strike.Reason.values:
        raise EnvelopeUnreadable(expected="a reading of this session and a reason", found=arrival.text[:60])
    if hasattr(reading, "strike"):
        return reading.strike
    if is_out_of_tolerance(reading):
        raise OutOfToleranceNotStruck()
    return Strike.objects.create(
        reading=reading, arrival=arrival, reason=reason, note=content.text("note", ""), by=by, at=now
    )


def _answer(arrival: Arrival, by: Person, now: datetime) -> Check:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    run = _run(content, session)
    code, answer = content.text("code"), content.text("answer")
    if answer not in Check.Answer.values or code not in {
        look.code for look in content_of(session.revision).looks
    }:
        raise UnknownAnswer(code=code, found=answer)
    return Check.objects.create(
        run=run, arrival=arrival, code=code, answer=answer, note=content.text("note", ""), by=by, at=now
    )


def _condition(arrival: Arrival, by: Person, now: datetime) -> Condition:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    temperature = content.decimal("temperature_c")
    humidity = content.decimal("humidity_percent")
    if temperature is None:
        raise UnlikelyCondition(what="a temperature", low="−20 °C", high="60 °C", found="nothing")
    _refuse_unlikely("a temperature", temperature, Decimal(-20), Decimal(60), " °C")
    if humidity is not None:
        _refuse_unlikely("a humidity", humidity, Decimal(0), Decimal(100), " %")
    sensor = Standard.objects.filter(pk=content.fields.get("sensor") or 0).first()
    if sensor is not None:
        require_usable(sensor, now)
    row = Condition.objects.create(
        run=_run(content, session),
        arrival=arrival,
        temperature_c=temperature,
        standard_temperature_c=content.decimal("standard_temperature_c"),
        humidity_percent=humidity,
        sensor=sensor,
        at=content.instant("at", arrival.entered_at or now),
        by=by,
    )
    answer_earlier(arrival, f"noted again: {row}", by, now)
    return row


def _zero(arrival: Arrival, by: Person, now: datetime) -> ZeroCheck:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    run = _run(content, session)
    kind = content.text("kind")
    if kind not in ZeroCheck.Kind.values:
        raise EnvelopeUnreadable(expected="a zero as found, set or closing", found=kind)
    parsed = _parse(session, content.text("raw"))
    if content.fields.get("confirmed") is not True:
        question_zero(session, parsed)
    row = ZeroCheck.objects.create(
        run=run,
        arrival=arrival,
        kind=kind,
        raw=content.text("raw").strip(),
        unit=parsed.unit.value,
        value_mm=parsed.value_mm,
        at=content.instant("at", arrival.entered_at or now),
        by=by,
    )
    answer_earlier(arrival, f"read again: {row.raw}", by, now)
    if kind == ZeroCheck.Kind.CLOSING:
        after_closing(row, now)
    return row


SETTLERS: dict[str, Callable[[Arrival, Person, datetime], Any]] = {
    Arrival.Kind.READING: _reading,
    Arrival.Kind.STRIKE: _strike,
    Arrival.Kind.ANSWER: _answer,
    Arrival.Kind.CONDITION: _condition,
    Arrival.Kind.ZERO: _zero,
}


def _open_session(arrival: Arrival, by: Person, now: datetime) -> Session:
    """Lock the session for this step, and refuse when it is closed or ``by`` may not measure its family now."""
    session = (
        Session.objects.select_for_update(of=("self",))
        .select_related("gauge__model__family", "revision")
        .get(pk=arrival.session_id)
    )
    require_open(session)
    require_authorised(by, Activity.MEASURE, session.gauge.model.family, now)
    return session


def _run(content: Content, session: Session) -> Run:
    return _mine(Run.objects.all(), content.number("run"), session, "run")  # type: ignore[no-any-return]


def _mine(rows: Any, pk: int, session: Session, what: str) -> Any:
    row = rows.filter(pk=pk).first()
    owner = None if row is None else (row.session_id if what == "run" else row.run.session_id)
    if owner != session.pk:
        raise EnvelopeUnreadable(expected=f"a {what} of session {session.pk}", found=f"{what} {pk}")
    return row


def _parse(session: Session, raw: str) -> ParsedReading:
    model = session.gauge.model
    return parse_reading(raw, unit=Unit(model.unit), step=readable_step(model, content_of(session.revision)))


def _refuse_impossible_time(session: Session, measured_at: datetime, now: datetime) -> None:
    if measured_at > now + CLOCK_TOLERANCE:
        raise MeasuredInTheFuture(measured=f"{measured_at:%Y-%m-%d %H:%M}", now=f"{now:%Y-%m-%d %H:%M}")
    if measured_at < session.received_at:
        raise MeasuredBeforeReceipt(
            measured=f"{measured_at:%Y-%m-%d %H:%M}", received=f"{session.received_at:%Y-%m-%d %H:%M}"
        )


def _refuse_unlikely(what: str, found: Decimal, low: Decimal, high: Decimal, unit: str) -> None:
    if not low <= found <= high:
        low_text, high_text, found_text = (f"{value}{unit}".replace("-", "−") for value in (low, high, found))
        raise UnlikelyCondition(what=what, low=low_text, high=high_text, found=found_text)
