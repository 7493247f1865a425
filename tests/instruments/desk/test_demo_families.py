"""The demo laboratory works on every family that a procedure ships for: one history, lived through once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from functools import partial

import pytest
import time_machine
from django.db import connection, transaction
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoDbBlocker

from instruments.certificates.operations import sign_off
from instruments.desk.demo import lab, stories
from instruments.desk.demo.playing import Bench
from instruments.desk.demo.world import World
from instruments.inventory.models import Gauge
from instruments.inventory.queries import received_at
from instruments.inventory.queries.limits import limits_of_model
from instruments.measuring.models import Point, Session
from instruments.measuring.open_items import open_items
from instruments.measuring.operations import open_session, submit
from instruments.procedures.queries import content_of, revision_in_force
from instruments.procedures.shipped import families, procedure
from instruments.recall.models import CalibrationEvent
from instruments.recall.queries import due_on
from labsys.accounts.models import Activity
from labsys.accounts.queries import authorisation_in_force
from labsys.journal.models import JournalEntry
from labsys.laboratory.models import Family
from labsys.laboratory.queries import agreement_in_force, local_date
from labsys.metrology.units import Unit, from_mm

pytestmark = pytest.mark.django_db

D = Decimal
NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
"""A Wednesday in the morning."""


@dataclass(frozen=True)
class Demo:
    """The laboratory as it stands at NOW, and its gauges by family."""

    world: World
    gauges: dict[str, list[Gauge]]

    def ready(self, family: str) -> list[Gauge]:
        """Give the gauges that lie in the laboratory and that nobody has begun to measure."""
        return [
            gauge
            for gauge in self.gauges[family]
            if received_at(gauge) is not None and not gauge.sessions.exclude(state="approved").exists()
        ]


@pytest.fixture(scope="module")
def demo(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Demo]:
    """Live through the history once for the whole module; all of it is rolled back after the last test.

    What a test does to it is undone by the test's own transaction, which lies within this one.
    """
    files = tmp_path_factory.mktemp("files")
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=files), transaction.atomic():
        world = lab.build(now=NOW)
        gauges: dict[str, list[Gauge]] = {}
        for row in Gauge.objects.select_related("model__family", "tag", "department").order_by("tag__text"):
            gauges.setdefault(row.model.family.code, []).append(row)
        yield Demo(world, gauges)
        transaction.set_rollback(True)


@pytest.mark.parametrize("family", families())
def test_a_family_that_ships_is_approved_agreed_and_somebody_may_work_on_it(demo: Demo, family: str) -> None:
    row = Family.objects.get(code=family)
    revision = revision_in_force(row, NOW)
    assert revision is not None and content_of(revision) == procedure(family)
    # Approved for its models: each was tried, and simulated, before the signature.
    assert revision.comparison is not None
    assert {one["model"] for one in revision.comparison["rows"]} == {
        str(gauge.model) for gauge in demo.gauges[family]
    }
    for gauge in demo.gauges[family]:
        limits = limits_of_model(gauge.model, NOW)
        assert limits is not None and limits.rows and not limits.confirmed
        assert agreement_in_force(gauge.department, row, NOW) is not None
    people = demo.world.people
    for name, activity in (("technician", Activity.MEASURE), ("reviewer", Activity.REVIEW)):
        assert authorisation_in_force(people[name], activity, row, NOW) is not None


@pytest.mark.parametrize("family", families())
def test_a_family_that_ships_has_gauges_with_a_history_and_one_lies_ready(demo: Demo, family: str) -> None:
    gauges = demo.gauges[family]
    calibrated = CalibrationEvent.objects.filter(gauge__in=gauges)
    assert len(gauges) >= 2 and calibrated.exists() and demo.ready(family)
    today = local_date(NOW)
    dues = [due_on(gauge, NOW) for gauge in gauges if calibrated.filter(gauge=gauge).exists()]
    assert None not in dues and any(due > today for due in dues if due is not None)


def opened(demo: Demo, gauge: Gauge) -> Bench:
    """Open a session as the technician, the room noted, looks and zero done."""
    by = demo.world.people["technician"]
    session = open_session(gauge=gauge, place=demo.world.places["Calibration laboratory"], by=by, now=NOW)
    said = JournalEntry.objects.get(subject=f"session:{session.pk}", act="measuring.open-session")
    assert said.after is not None and said.after["missing"] == []
    return Bench(session, by, NOW)


def without_error(bench: Bench, point: Point) -> Decimal:
    """Give nothing where the gauge errs by a length; otherwise what a good gauge shows."""
    series = bench.content.series_of(point.function)
    if series is None or series.reads in ("indication", "difference"):
        return D(0)
    return stories.error_at(bench.session.gauge, bench.content, 0, point)


@pytest.mark.parametrize("family", families())
def test_a_gauge_that_lies_ready_is_measured_today_handed_in_and_signed(demo: Demo, family: str) -> None:
    bench = opened(demo, demo.ready(family)[0])
    bench.prepare("20.1")
    bench.measure(partial(without_error, bench))
    assert [item.sentence for item in open_items(bench.session)] == []
    submission = submit(session=bench.session, by=bench.by, now=bench.now)
    judged = {result.verdict for result in submission.results.all() if result.verdict}
    assert judged == {"in_tolerance"}
    reviewer = demo.world.people["reviewer"]
    proof = demo.world.proof("reviewer", bench.now)
    certificate = sign_off(submission=submission, proof=proof, by=reviewer, now=bench.now)
    assert certificate.number and Session.objects.get(pk=bench.session.pk).state == Session.State.APPROVED


def test_an_indicator_in_inches_is_planned_at_round_inches_on_its_divisions(demo: Demo) -> None:
    [gauge] = [one for one in demo.ready("dial-indicator") if one.model.unit == "in"]
    points = opened(demo, gauge).run.points.filter(function="travel")
    inches = [from_mm(point.nominal_mm, Unit.IN) for point in points]
    assert D("0.005") in inches and max(inches) == D("0.25")
    assert [inch for inch in inches if inch % gauge.model.resolution] == []


def test_points_and_references_are_laid_out_by_one_insert_each(demo: Demo) -> None:
    with CaptureQueriesContext(connection) as asked:
        points = opened(demo, demo.ready("gauge-block")[0]).run.points.count()
    inserts = [query["sql"].split('"')[1] for query in asked if query["sql"].startswith("INSERT INTO")]
    assert points >= 5
    assert [inserts.count(f"instruments_{name}") for name in ("point", "pointreference")] == [1, 1]


def test_the_bench_narrows_what_lies_ready_to_one_family(demo: Demo, client: Client) -> None:
    client.force_login(demo.world.people["technician"])
    with time_machine.travel(NOW, tick=False):
        page = client.get("/bench/")
        narrowed = client.get("/bench/", {"family": "feeler"})
        unknown = client.get("/bench/", {"family": "no-such"})
    every = [one.item.gauge.tag.text for one in page.context["ready"]]
    assert len(every) > 12 and page.context["choices"][0].count == len(every)
    assert sum(one.count for one in page.context["choices"][1:]) == len(every)
    [feeler] = narrowed.context["ready"]
    assert feeler.item.gauge in demo.gauges["feeler"]
    assert 'href="/bench/?family=feeler#ready-head" aria-current="true"' in narrowed.content.decode()
    assert [one.item.gauge.tag.text for one in unknown.context["ready"]] == every
