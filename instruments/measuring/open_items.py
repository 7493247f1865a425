"""What still stands between a session and handing it in, each as a sentence: one list for the bench and the gate.

The coverage rules of the points come from the procedure; the rest is what every calibration needs. An item that is
``deviable`` may be accepted by the reviewer with a reason; the others must be done.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from instruments.measuring.arriving import missing, unsettled
from instruments.measuring.models import Arrival, Point, Run, Session, ZeroCheck
from instruments.measuring.planning import rules_open
from instruments.measuring.rejecting import rejections
from instruments.measuring.room_log import gap_sentences, logged, outside, relied_on
from instruments.measuring.rooms import conditions_while_measuring
from instruments.measuring.soaking import soak_of, soak_sentence
from instruments.measuring.zeros import has_zero, holds, is_fixed
from instruments.procedures.content import Content, Look
from instruments.procedures.queries import content_of
from labsys.accounts.models import Activity, Person
from labsys.accounts.queries import authorisation_in_force
from standards.register.queries import usability


@dataclass(frozen=True)
class OpenItem:
    """One open thing: a stable code, a sentence, the run it belongs to, whether a reviewer may accept it."""

    code: str
    sentence: str
    run_id: int | None = None
    deviable: bool = False


@dataclass(frozen=True)
class RunRead:
    """A run as the caller has read it already: with what was observed, its live points, and what rejects the gauge."""

    run: Run
    points: Sequence[Point]
    rejections: tuple[str, ...]


def open_items(session: Session, newest: RunRead | None = None) -> tuple[OpenItem, ...]:
    """List what still has to be done before ``session`` can be handed in; accepted deviations are left out.

    A gauge that was rejected (damage, unstable zero, spread) needs no further points: the job ended there.
    The ``newest`` run is read here unless the caller has it already.
    """
    accepted = set(session.deviations.values_list("rule", "sentence"))
    content = content_of(session.revision)
    items: list[OpenItem] = list(_unanswered_arrivals(session))
    for read in _runs(session, newest):
        items.extend(_of_run(session, read, content))
    # What was accepted is what the reviewer read: the same rule, broken otherwise or further, is open again.
    return tuple(item for item in items if (item.code, item.sentence) not in accepted)


def _runs(session: Session, newest: RunRead | None) -> Iterator[RunRead]:
    """Read the runs in their order, but not the newest once more."""
    rows = session.runs.exclude(pk=newest.run.pk) if newest else session.runs.all()
    for run in rows.prefetch_related("checks", "zero_checks", "conditions__span", "conditions__sensor__tag"):
        points = run.points.filter(void=None).prefetch_related(
            "readings__strike", "readings__read_by", "references__element_value__element"
        )
        yield RunRead(run, list(points), rejections(run))
    if newest is not None:
        yield newest


def _of_run(session: Session, read: RunRead, content: Content) -> Iterator[OpenItem]:
    yield from _looks(read.run, content)
    yield from room_items(read.run, content)
    yield from _usable_standards(read)
    yield from _authority(session, read)
    if read.rejections:
        return
    if has_zero(content):
        yield from _zero(read, content)
    yield from _points(session, read, content)


def _unanswered_arrivals(session: Session) -> Iterator[OpenItem]:
    waiting = Arrival.objects.filter(session=session, set_aside__isnull=False, set_aside__resolved_at=None)
    if count := waiting.count():
        yield OpenItem(
            "set-aside", f"{count} entered value{'s' if count > 1 else ''} set aside and not answered for."
        )
    if gap := sum(missing(session).values()):
        yield OpenItem(
            "not-arrived",
            f"{gap} {'entries' if gap > 1 else 'entry'} typed on a tablet {'have' if gap > 1 else 'has'} not arrived: "
            "open the bench on that tablet where it has the network.",
            deviable=True,
        )
    if count := unsettled(session).count():
        yield OpenItem(
            "unsettled",
            f"{count} entered value{'s' if count > 1 else ''} kept and not judged yet: wait a minute.",
        )


def _looks(run: Run, content: Content) -> Iterator[OpenItem]:
    answered = {check.code for check in run.checks.all()}
    missing = [look for look in looks_of(run, content) if look.code not in answered]
    if missing:
        yield OpenItem(
            f"looks-{run.stage}",
            f"{len(missing)} look{'s' if len(missing) > 1 else ''} not answered yet.",
            run.pk,
        )


def looks_of(run: Run, content: Content) -> tuple[Look, ...]:
    """Give the looks that apply to the gauge of this run."""
    gauge = run.session.gauge
    return content.looks_for(tuple(gauge.functions), gauge.model.indication, gauge.model.inside_jaws)


def room_items(run: Run, content: Content) -> Iterator[OpenItem]:
    """Give what is wrong with the room of a run: not noted, outside its limits, the gauge not long enough in it."""
    rows = conditions_while_measuring(run)
    if not rows:
        yield OpenItem("conditions-missing", "The room's temperature is not noted yet.", run.pk)
        return
    limits = content.conditions
    for row in rows:
        if not limits.temperature_low_c <= row.temperature_c <= limits.temperature_high_c:
            yield OpenItem(
                "temperature-out",
                f"{row.temperature_c:.1f} °C lies outside {limits.temperature_low_c} to "
                f"{limits.temperature_high_c} °C.",
                run.pk,
                deviable=True,
            )
        if (
            row.humidity_percent is not None
            and not limits.humidity_low <= row.humidity_percent <= limits.humidity_high
        ):
            yield OpenItem(
                "humidity-out",
                f"{row.humidity_percent:.0f} % humidity lies outside {limits.humidity_low} to "
                f"{limits.humidity_high} %.",
                run.pk,
                deviable=True,
            )
    yield from _soak_and_log(run, content)


def _soak_and_log(run: Run, content: Content) -> Iterator[OpenItem]:
    """Hold the time in the room against the procedure, and the log of the room against the limits.

    A gap of the log counts where the room was noted from it.
    """
    soak = soak_of(run, content)
    if run.stage == Run.Stage.AS_FOUND and (sentence := soak_sentence(soak)):
        yield OpenItem("soak-short", sentence, run.pk, deviable=True)
    span = logged(run, soak)
    if span is None:
        return
    for code, sentence in outside(span, content):
        yield OpenItem(code, sentence, run.pk, deviable=True)
    if relied_on(run) is not None:
        for sentence in gap_sentences(span):
            yield OpenItem("log-gap", sentence, run.pk, deviable=True)


def _zero(read: RunRead, content: Content) -> Iterator[OpenItem]:
    run = read.run
    checks = list(run.zero_checks.all())
    kinds = {check.kind for check in checks}
    sets = [check for check in checks if check.kind == ZeroCheck.Kind.SET]
    if ZeroCheck.Kind.AS_FOUND not in kinds:
        # Once it was set, nobody can read any more what it was; the reviewer may accept that.
        yield OpenItem("zero-as-found", "The zero as found is not read yet.", run.pk, deviable=bool(sets))
    if not sets and not is_fixed(run.session.gauge.model, content):
        yield OpenItem("zero-set", "The zero is not set yet.", run.pk)
    if sets and (count := _read_before(read.points, sets[0].at)):
        yield OpenItem(
            "points-before-zero",
            f"{count} point{'s were' if count > 1 else ' was'} read before the zero was set: "
            f"take {'them' if count > 1 else 'it'} again.",
            run.pk,
        )
    closings = [check for check in checks if check.kind == ZeroCheck.Kind.CLOSING]
    last_reading = max((r.measured_at for p in read.points for r in p.readings.all()), default=None)
    last_closing = closings[-1] if closings else None
    if last_closing is not None and not holds(last_closing) and not _set_since(checks, last_closing):
        yield OpenItem(
            "zero-set-again", "The zero moved: set it again before the points are repeated.", run.pk
        )
    if last_closing is None or not holds(last_closing) or (last_reading and last_closing.at < last_reading):
        yield OpenItem("zero-closing", "The zero is not verified after the last point.", run.pk)


def _read_before(points: Sequence[Point], at: datetime) -> int:
    """Count the points with a reading that counts, taken before ``at``."""
    return sum(
        any(r.measured_at < at and not hasattr(r, "strike") for r in point.readings.all()) for point in points
    )


def _set_since(checks: list[ZeroCheck], moved: ZeroCheck) -> bool:
    """Say whether the zero was set after it was found to have moved."""
    return any(check.kind == ZeroCheck.Kind.SET and check.pk > moved.pk for check in checks)


def _points(session: Session, read: RunRead, content: Content) -> Iterator[OpenItem]:
    run = read.run
    taken = [point for point in read.points if _counted(point) >= content.repeats_at(point.function)]
    if open_count := len(read.points) - len(taken):
        yield OpenItem(
            "points", f"{open_count} point{'s' if open_count > 1 else ''} still to be measured.", run.pk
        )
    for rule in rules_open(session, taken):
        # One that only warns (lengths at one phase of the scale) holds nothing up.
        if rule.is_blocking:
            yield OpenItem(rule.code, rule.sentence, run.pk, deviable=True)


def _usable_standards(read: RunRead) -> Iterator[OpenItem]:
    """Check each standard at the time of every use, not only when it was picked."""
    run = read.run
    for row in run.standards.select_related("standard__tag"):
        for at in _use_times(read.points, row.standard_id):
            found = usability(row.standard, at)
            if not found.ok or found.calibration is None or found.calibration.pk != row.calibration_id:
                why = (
                    "Another calibration is in force by now: take the points anew."
                    if found.ok
                    else found.sentence
                )
                yield OpenItem(f"standard-{row.standard.tag}", f"{row.standard.tag}: {why}", run.pk)
                break


def _use_times(points: Sequence[Point], standard_id: int) -> list[datetime]:
    readings = [
        reading.measured_at
        for point in points
        if any(ref.element_value.element.standard_id == standard_id for ref in point.references.all())
        for reading in point.readings.all()
    ]
    return [min(readings), max(readings)] if readings else []


def _authority(session: Session, read: RunRead) -> Iterator[OpenItem]:
    """Check everybody who read, at their first and at their last reading."""
    family = session.gauge.model.family
    taken: dict[Person, list[datetime]] = defaultdict(list)
    for point in read.points:
        for reading in point.readings.all():
            taken[reading.read_by].append(reading.measured_at)
    for person, times in taken.items():
        for at in (min(times), max(times)):
            if authorisation_in_force(person, Activity.MEASURE, family, at) is None:
                yield OpenItem(
                    "authority", f"{person.name} was not authorised to measure when reading.", read.run.pk
                )
                break


def _counted(point: Point) -> int:
    return sum(1 for reading in point.readings.all() if not hasattr(reading, "strike"))
