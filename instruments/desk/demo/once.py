"""The main job once, without a page: one due caliper called in, received, measured, reviewed, certified, given back.

Every step is the operation that the pages call; the readings come from a file beside this module. What came out is
printed as JSON. The day's work is spread over the three hours before now, so that the gauge has had time to soak.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any, ClassVar

from django.utils import timezone

from instruments.certificates.models import Certificate
from instruments.certificates.operations import render, sign_off
from instruments.desk.demo.people import PEOPLE
from instruments.desk.demo.playing import Bench
from instruments.inventory.models import Gauge, GaugeState
from instruments.inventory.queries import received_at, state_of
from instruments.measuring.models import Point, Reading, Result, Submission
from instruments.measuring.operations import open_session, submit
from instruments.measuring.queries import outcome_of
from instruments.procedures.content import PLACES
from instruments.recall.operations import call_in, receive, release
from instruments.recall.queries import due_on
from labsys.accounts.models import Person
from labsys.accounts.operations import sign_in_again
from labsys.errors import LabError
from labsys.laboratory.models import Place
from labsys.laboratory.queries import local_date
from labsys.metrology.exact import plain
from labsys.metrology.units import Unit, from_mm, to_mm

FUNCTION_WORDS = {"small_bore": "small bore"}


class NothingDue(LabError):
    """The demo laboratory has no gauge that this run could take."""

    code: ClassVar[str] = "nothing-due"
    sentence: ClassVar[str] = (
        "No “{model}” in service is out of the laboratory, so there is none to call in. "
        "Start again with --fresh to put the demo laboratory back to its beginning."
    )


class ReadingMissing(LabError, ValueError):
    """The file and the procedure's points don't fit each other."""

    code: ClassVar[str] = "reading-missing"
    sentence: ClassVar[str] = "The file of readings and the points don't fit: {what}."


@dataclass(frozen=True)
class Cast:
    """Who takes part."""

    manager: Person
    technician: Person
    reviewer: Person


def run() -> int:
    """Do the whole job and print what came out as JSON; 0 when everything was done."""
    print(json.dumps(do(timezone.now()), indent=2, ensure_ascii=False))  # noqa: T201 - what the command is for
    return 0


def do(now: datetime) -> dict[str, Any]:
    """Take one due caliper from call-in to a certificate and back; gives what came out as plain data."""
    script = _script()
    cast = Cast(*(Person.objects.get(username=name) for name in ("manager", "technician", "reviewer")))
    gauge = _due(script["model"], now)
    due_before = due_on(gauge, now)
    submission = _measure(gauge, script, cast, now)
    certificate = _certify(submission, cast, now)
    outcome = outcome_of(submission)
    if not gauge.holds.filter(lifted_at=None).exists():
        release(gauge=gauge, handed_to_note="", by=cast.technician, now=now)
    return {
        "gauge": gauge.tag.text,
        "due_before": f"{due_before:%Y-%m-%d}" if due_before else None,
        "verdict": outcome.as_left.words,
        "points": [_line(result) for result in submission.results.prefetch_related("points")],
        "certificate": certificate.number,
        "file": str(Path(certificate.file.path)),
        "sha256": certificate.file_sha256,
        "new_due_date": f"{due_on(gauge, now):%Y-%m-%d}",
    }


def _script() -> dict[str, Any]:
    text = files(__package__).joinpath("readings.json").read_text(encoding="utf-8")
    script: dict[str, Any] = json.loads(text)
    return script


def _due(designation: str, now: datetime) -> Gauge:
    """Find the gauge of the model that is due first and out in the shop."""
    gauges = Gauge.objects.filter(model__designation=designation).select_related(
        "model__family", "tag", "department"
    )
    out = [
        gauge
        for gauge in gauges.order_by("standing__valid_until", "pk")
        if state_of(gauge, now) == GaugeState.State.IN_SERVICE and received_at(gauge) is None
    ]
    if not out:
        raise NothingDue(model=designation)
    return out[0]


def _measure(gauge: Gauge, script: dict[str, Any], cast: Cast, now: datetime) -> Submission:
    place = Place.objects.filter(is_laboratory=True).order_by("pk")[0]
    morning = now - timedelta(hours=3)
    call_in(gauges=[gauge], bring_by=local_date(now), note="due", by=cast.manager, now=morning)
    receive(
        gauge=gauge,
        condition="clean, complete",
        damaged=False,
        place=place,
        at=morning,
        by=cast.technician,
        now=morning,
    )
    session = open_session(gauge=gauge, place=place, by=cast.technician, now=now - timedelta(hours=1))
    bench = Bench(session, cast.technician, now - timedelta(hours=1))
    bench.prepare(**script["room"], zero=script["zero"]["as_found"])
    _read(bench, script)
    bench.send("zero", run=bench.run.pk, kind="closing", raw=script["zero"]["closing"])
    return submit(session=session, by=cast.technician, now=bench.now)


def _read(bench: Bench, script: dict[str, Any]) -> None:
    """Take every point with its reading from the file; raises ReadingMissing where one side has more."""
    waiting = {_key(row, Unit(bench.session.gauge.model.unit)): row["raw"] for row in script["readings"]}
    for point in bench.run.points.filter(void=None).order_by("sequence", "attempt"):
        raw = waiting.pop((point.function, point.place, plain(point.nominal_mm)), None)
        if raw is None:
            raise ReadingMissing(
                what=f"there is no reading for {point} {PLACES.get(point.place, point.place)}"
            )
        taken = bench.send("reading", point=point.pk, raw=raw, source="import")
        if not isinstance(taken, Reading):
            raise ReadingMissing(what=f"“{raw}” at {point} was set aside: {taken.sentence}")
    if waiting:
        raise ReadingMissing(what=f"{len(waiting)} readings have no point")


def _key(row: dict[str, str], unit: Unit) -> tuple[str, str, Decimal]:
    return row["function"], row["place"], plain(to_mm(Decimal(row["length"]), unit))


def _certify(submission: Submission, cast: Cast, now: datetime) -> Certificate:
    """Review, sign with the password again, and make the file as the worker would."""
    password = next(person.password for person in PEOPLE if person.username == "reviewer")
    proof = sign_in_again(person=cast.reviewer, password=password, now=now)
    certificate = sign_off(submission=submission, proof=proof, by=cast.reviewer, now=now)
    return render(certificate, now)


def _line(result: Result) -> dict[str, Any]:
    point: Point | None = result.points.first()
    unit = Unit(result.run.session.gauge.model.unit)
    return {
        "function": FUNCTION_WORDS.get(result.function, result.function),
        "place": PLACES.get(point.place, point.place) if point else "",
        "length": f"{plain(from_mm(point.nominal_mm, unit)):f}" if point else "0",
        "reading": result.reading.raw if result.reading else "",
        "error_mm": f"{plain(result.value_mm):f}",
        "U_mm": "" if result.U_mm is None else f"{plain(result.U_mm):f}",
        "unit": unit.value,
        "verdict": result.verdict.replace("_", " "),
    }
