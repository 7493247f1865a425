"""What happened to each gauge of the demo laboratory: a calibration day, how far it is off, and what became of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from zlib import crc32

from django.core.files.uploadedfile import SimpleUploadedFile

from instruments.certificates.operations import sign_off
from instruments.desk.demo.papers import paper
from instruments.desk.demo.playing import Bench
from instruments.desk.demo.world import World
from instruments.inventory.models import Gauge
from instruments.measuring.models import Point, Submission
from instruments.measuring.operations import (
    AdjustmentData,
    begin_as_left,
    open_session,
    return_submission,
    submit,
)
from instruments.procedures.content import Content
from instruments.recall.models import Hold
from instruments.recall.operations import (
    OutsideData,
    RestrictionData,
    accept_outside_certificate,
    call_in,
    change_state,
    receive,
    receive_outside_certificate,
    release,
    restrict,
    set_hold,
)
from labsys.laboratory.queries import local_date

D = Decimal
OWN_TENTHS = (-10, -6, -4, -2, 0, 0, 2, 4, 6, 10)
"""What a good gauge shows, in tenths of its step, drawn by its tag and point."""
FLATNESS_MM = D("0.0042")
"""Of a surface plate that is in use, as a survey gives it."""


@dataclass(frozen=True)
class Story:
    """One gauge's calibration: how many days ago, how worn it is (in steps), and how far the work got."""

    tag: str
    days_ago: int
    wear_steps: int = 0
    adjusted: bool = False
    ends: str = "released"  # released · held · waiting · returned · open · received · called
    technician: str = "technician"
    hours: int = 2  # that it lies in the room before it is measured


def calibrate(world: World, story: Story) -> None:
    """Put one calibration into the calendar, from being called in to being given back."""
    manager = world.people["manager"]
    gauge = world.gauges[story.tag]
    day = world.at(story.days_ago)

    def call(at: datetime) -> None:
        bring_by = local_date(day) + timedelta(days=2)
        call_in(gauges=[gauge], bring_by=bring_by, note="recalibration", by=manager, now=at)

    def bring(at: datetime) -> None:
        receive(
            gauge=gauge,
            condition="clean, complete, no damage seen",
            damaged=False,
            place=world.places["Calibration laboratory"],
            at=at,
            by=world.people[story.technician],
            now=at,
        )

    world.plan(world.at(story.days_ago + 9, 10), call)
    if story.ends == "called":
        return
    world.plan(day, bring)
    if story.ends != "received":
        world.plan(day + timedelta(hours=story.hours), partial(_measure, world, story))


def _measure(world: World, story: Story, at: datetime) -> None:
    technician = world.people[story.technician]
    gauge = world.gauges[story.tag]
    session = open_session(gauge=gauge, place=world.places["Calibration laboratory"], by=technician, now=at)
    bench = Bench(session, technician, at)
    bench.prepare(f"{20 + world.rng.randrange(-6, 7) / 10:.1f}")
    if story.ends == "open":
        _half(bench, story)
        return
    bench.measure(partial(error_at, gauge, bench.content, story.wear_steps))
    if story.adjusted:
        bench.now += timedelta(minutes=5)
        done = AdjustmentData(what="Gib adjusted, faces lapped, zero set again.", parts="gib screw")
        begin_as_left(session=session, adjustment=done, by=technician, now=bench.now)
        bench.prepare("20.1")
        bench.measure(partial(error_at, gauge, bench.content, 0))
    bench.now += timedelta(minutes=1)
    submission = submit(session=session, by=technician, now=bench.now)
    if story.ends != "waiting":
        world.plan(bench.now + timedelta(hours=1), partial(_review, world, story, submission))


def _half(bench: Bench, story: Story) -> None:
    """Leave the bench in the middle of the points."""
    points = list(bench.run.points.filter(void=None).order_by("sequence"))
    for point in points[:2]:
        length = point.nominal_mm + error_at(bench.session.gauge, bench.content, story.wear_steps, point)
        bench.send("reading", point=point.pk, raw=bench.shown(point.function, length))


def error_at(gauge: Gauge, content: Content, wear_steps: int, point: Point) -> Decimal:
    """Give the invented error of a gauge at a point: small and its own, and short by its wear near the tips.

    Of what isn't a length, the value itself: a band or two, a few tenths of a step, and everything fits.
    """
    step = gauge.model.step_mm
    series = content.series_of(point.function)
    if series is not None and (series.reads, series.serves) == ("value", "flatness"):
        return FLATNESS_MM
    if series is not None and series.reads in ("bands", "value", "attribute"):
        return {"bands": series.band_mm or D(0), "value": step / 10, "attribute": D(1)}[series.reads]
    chance = crc32(f"{gauge.tag.text}{point.function}{point.nominal_mm}".encode()) % 10
    own = D(OWN_TENTHS[chance]) / 10 * step
    if series is not None and series.serves == "travel":
        own /= 4  # over a travel the errors of two lengths are compared, and a whole step would be too much
    if gauge.model.indication == "vernier":
        own = D(0)  # one step of a vernier is its whole limit
    worn = wear_steps if point.place == "tips" or point.function == "small_bore" else wear_steps // 2
    return own - step * worn


def _review(world: World, story: Story, submission: Submission, at: datetime) -> None:
    reviewer = world.people["reviewer"]
    if story.ends == "returned":
        why = "The ring point was taken once only where the display flickered: take it again."
        return_submission(submission=submission, reason=why, by=reviewer, now=at)
        return
    sign_off(submission=submission, proof=world.proof("reviewer", at), by=reviewer, now=at)
    if story.ends == "released":
        world.plan(at + timedelta(hours=1), partial(_give_back, world, story))


def _give_back(world: World, story: Story, at: datetime) -> None:
    """Give the gauge back, unless what was found keeps it here."""
    gauge = world.gauges[story.tag]
    if gauge.holds.filter(lifted_at=None).exists():
        return
    release(gauge=gauge, handed_to_note="", by=world.people[story.technician], now=at)


def outside(world: World, tag: str, days_ago: int, verdict: str = "in_tolerance") -> None:
    """Put an outside calibration of a gauge into the calendar: away, back, its certificate accepted, given back."""
    gauge, manager = world.gauges[tag], world.people["manager"]
    technician = world.people["technician"]
    day = world.at(days_ago)

    def bring(at: datetime) -> None:
        receive(
            gauge=gauge,
            condition="back from the outside laboratory, in its case",
            damaged=False,
            place=world.places["Calibration laboratory"],
            at=at,
            by=technician,
            now=at,
        )

    def accept(at: datetime) -> None:
        number = f"N 91-{crc32(tag.encode()) % 10000:04d}-{days_ago}"
        data = OutsideData(
            issuer="Length laboratory North (invented)",
            number=number,
            calibrated_on=local_date(day) - timedelta(days=3),
            verdict=verdict,
            as_found=verdict,
            as_found_within_limits=verdict == "in_tolerance",
            accreditation="LAB-0815",
        )
        file = SimpleUploadedFile("certificate.pdf", _sheet(tag, number, data.calibrated_on))
        row = receive_outside_certificate(gauge=gauge, data=data, file=file, by=technician, now=at)
        accept_outside_certificate(certificate=row, reason="complete, scope checked", by=manager, now=at)

    def give_back(at: datetime) -> None:
        release(gauge=gauge, handed_to_note="", by=technician, now=at)

    world.plan(day, bring)
    world.plan(day + timedelta(hours=1), accept)
    world.plan(day + timedelta(hours=2), give_back)


def _sheet(tag: str, number: str, day: date) -> bytes:
    facts = (
        ("Issued by", "Length laboratory North (invented)"),
        ("Number", number),
        ("Gauge", tag),
        ("Calibrated on", f"{day:%Y-%m-%d}"),
    )
    return paper("Calibration certificate", facts, ())


def state(world: World, tag: str, days_ago: int, word: str, reason: str) -> None:
    """Put a change of service state into the calendar."""

    def deed(at: datetime) -> None:
        change_state(gauge=world.gauges[tag], state=word, reason=reason, by=world.people["manager"], now=at)

    world.plan(world.at(days_ago, 11), deed)


def restricted(world: World, tag: str, days_ago: int) -> None:
    """Put a restriction into the calendar."""
    data = RestrictionData(
        text="Only for outside lengths up to 100 mm: the inside jaws are worn.",
        functions=("outside",),
        owner_consent="Team lead, agreed by mail",
    )

    def deed(at: datetime) -> None:
        restrict(
            gauge=world.gauges[tag], data=data, reason="worn inside jaws", by=world.people["reviewer"], now=at
        )

    world.plan(world.at(days_ago, 11), deed)


def damaged(world: World, tag: str, days_ago: int) -> None:
    """Put a damage report into the calendar."""

    def deed(at: datetime) -> None:
        set_hold(
            gauge=world.gauges[tag],
            kind=Hold.Kind.DAMAGE,
            reason="Fell from the milling machine; the depth rod is bent.",
            by=world.people["manager"],
            now=at,
        )

    world.plan(world.at(days_ago, 13), deed)
