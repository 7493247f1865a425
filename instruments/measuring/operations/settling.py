"""What becomes of each kind of arrival: a reading, a strike, an answer, a condition, a zero check.

Each settler runs in the second transaction and may refuse with a named error; the arrival is then set aside.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, ClassVar

from instruments.measuring.access import MEASURE
from instruments.measuring.envelope import Content, EnvelopeUnreadable
from instruments.measuring.evaluation import is_out_of_tolerance
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
from instruments.measuring.operations.from_log import note_from_log
from instruments.measuring.operations.gate import require_open
from instruments.measuring.operations.questioning import question_reading, question_zero
from instruments.measuring.operations.timing import refuse_impossible_time
from instruments.measuring.operations.zeroing import after_closing, refuse_zero_out_of_turn
from instruments.measuring.typed import Typed, read_typed
from instruments.procedures.queries import content_of
from instruments.procedures.scales import readable_step, zero_scale
from labsys.accounts.access import require_authorised
from labsys.accounts.models import Activity, Person
from labsys.errors import LabError
from labsys.journal.roles import require
from labsys.metrology.readings import parse_reading
from standards.register.models import Standard
from standards.register.queries import require_usable

Settled = Reading | Strike | Check | Condition | ZeroCheck

LONGEST_ANSWER, LONGEST_STRIKE = 300, 200
"""Signs that a remark beside an answer and beside a strike may have."""


class PointIsVoid(LabError):
    """A void point takes no more readings."""

    code: ClassVar[str] = "point-is-void"
    sentence: ClassVar[str] = "This point is void ({reason}). Take the reading at its newer attempt."


class OutOfToleranceNotStruck(LabError, PermissionError):
    """A reading that is out of tolerance is struck by the reviewer only."""

    code: ClassVar[str] = "out-of-tolerance-not-struck"
    sentence: ClassVar[str] = (
        "This reading is out of tolerance, so only the reviewer may strike it. Take the repeat; both stay visible."
    )


class RoundNotBroken(LabError):
    """A reading out of the middle of a round would shift those after it from reference to gauge."""

    code: ClassVar[str] = "round-not-broken"
    sentence: ClassVar[str] = (
        "Reference and gauge are read in turn here, so only the last reading can be struck. "
        "Leave the point out and take it again where an earlier one is wrong."
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
    refuse_impossible_time(point.run, measured_at, now)
    typed = read_typed(content.text("raw"), point.function, session.gauge.model, content_of(session.revision))
    if content.fields.get("confirmed") is not True:
        question_reading(point, typed)
    reading = Reading.objects.create(
        arrival=arrival,
        point=point,
        raw=content.text("raw").strip(),
        unit=typed.unit,
        value=typed.value,
        value_mm=typed.value_mm,
        measured_at=measured_at,
        entered_at=arrival.entered_at or now,
        received_at=arrival.received_at,
        read_by=by,
        device=arrival.device,
        offline=(arrival.received_at - (arrival.entered_at or now)) > timedelta(minutes=1),
        source=content.one_of("source", Reading.Source.values, Reading.Source.TYPED),
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
    series = content_of(session.revision).series_of(reading.point.function)
    if series is not None and series.order and reading != _last_counting(reading.point):
        raise RoundNotBroken()
    if is_out_of_tolerance(reading):
        raise OutOfToleranceNotStruck()
    return Strike.objects.create(
        reading=reading,
        arrival=arrival,
        reason=reason,
        note=content.text("note", "", longest=LONGEST_STRIKE),
        by=by,
        at=now,
    )


def _last_counting(point: Point) -> Reading | None:
    return point.readings.filter(strike=None).order_by("measured_at", "pk").last()


def _answer(arrival: Arrival, by: Person, now: datetime) -> Check:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    run = _run(content, session)
    code, answer = content.text("code"), content.text("answer")
    if answer not in Check.Answer.values or code not in {
        look.code for look in content_of(session.revision).looks
    }:
        raise UnknownAnswer(code=code, found=answer)
    refuse_impossible_time(run, now, now)
    return Check.objects.create(
        run=run,
        arrival=arrival,
        code=code,
        answer=answer,
        note=content.text("note", "", longest=LONGEST_ANSWER),
        by=by,
        at=now,
    )


def _condition(arrival: Arrival, by: Person, now: datetime) -> Condition:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    run, at = _run(content, session), content.instant("at", arrival.entered_at or now)
    refuse_impossible_time(run, at, now)
    sensor = _sensor(content, at)
    if content.fields.get("from_log") is True:
        row = note_from_log(run, sensor, arrival=arrival, at=at, by=by)
    else:
        row = Condition.objects.create(
            run=run,
            arrival=arrival,
            temperature_c=_typed_temperature(content),
            standard_temperature_c=_likely_temperature(content.decimal("standard_temperature_c")),
            humidity_percent=_likely_humidity(content.decimal("humidity_percent")),
            sensor=sensor,
            at=at,
            by=by,
        )
    answer_earlier(arrival, f"noted again: {row}", by, now)
    return row


def _typed_temperature(content: Content) -> Decimal:
    temperature = _likely_temperature(content.decimal("temperature_c"))
    if temperature is None:
        raise UnlikelyCondition(what="a temperature", low="−20 °C", high="60 °C", found="nothing")
    return temperature


def _sensor(content: Content, at: datetime) -> Standard | None:
    """Find the thermometer that was named, in calibration at the moment it was read."""
    if not content.fields.get("sensor"):
        return None
    pk = content.number("sensor")
    sensor = Standard.objects.filter(pk=pk, kind=Standard.Kind.THERMOMETER).select_related("tag").first()
    if sensor is None:
        raise EnvelopeUnreadable(expected="a thermometer of the register", found=f"standard {pk}")
    require_usable(sensor, at)
    return sensor


def _zero(arrival: Arrival, by: Person, now: datetime) -> ZeroCheck:
    content = Content(arrival.text)
    session = _open_session(arrival, by, now)
    run, at = _run(content, session), content.instant("at", arrival.entered_at or now)
    kind = content.one_of("kind", ZeroCheck.Kind.values)
    refuse_impossible_time(run, at, now)
    typed = _typed_zero(session, content.text("raw"))
    if content.fields.get("confirmed") is not True:
        question_zero(run, typed)
    refuse_zero_out_of_turn(run, kind)
    row = ZeroCheck.objects.create(
        run=run,
        arrival=arrival,
        kind=kind,
        raw=content.text("raw").strip(),
        unit=typed.unit,
        value_mm=typed.value_mm,
        at=at,
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
    require(by, MEASURE)
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


def _typed_zero(session: Session, raw: str) -> Typed:
    """Read a zero on the scale that it is read on; where that is the gauge's, by the parts it is read to."""
    model, content = session.gauge.model, content_of(session.revision)
    scale = zero_scale(model, content)
    step = scale.step if content.zero.how == "reference" else readable_step(model, content)
    parsed = parse_reading(raw, unit=scale.unit, step=step)
    return Typed(parsed.value, parsed.unit.value, parsed.value_mm)


def _likely_temperature(found: Decimal | None) -> Decimal | None:
    return _likely("a temperature", found, Decimal(-20), Decimal(60), " °C")


def _likely_humidity(found: Decimal | None) -> Decimal | None:
    return _likely("a humidity", found, Decimal(0), Decimal(100), " %")


def _likely(what: str, found: Decimal | None, low: Decimal, high: Decimal, unit: str) -> Decimal | None:
    if found is not None and not low <= found <= high:
        low_text, high_text, found_text = (f"{value}{unit}".replace("-", "−") for value in (low, high, found))
        raise UnlikelyCondition(what=what, low=low_text, high=high_text, found=found_text)
    return found
