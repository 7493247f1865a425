"""Three micrometers of one model in one sitting: prepared, and two of them read at the first set-up."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial

from instruments.desk.demo import stories
from instruments.desk.demo.playing import Bench
from instruments.desk.demo.stories import Story
from instruments.desk.demo.world import World
from instruments.measuring.operations import sit_down

TAGS = ("M-0003", "M-0004", "M-0005")
READ = 2
"""Gauges that were read at the first set-up before the technician was called away."""


def lay_out(world: World) -> None:
    """Bring the gauges in, and sit down with them when they have lain in the room."""
    for tag in TAGS:
        stories.calibrate(world, Story(tag, 1, ends="received"))
    world.plan(world.at(1) + timedelta(hours=5), partial(_sit, world))


def _sit(world: World, at: datetime) -> None:
    technician = world.people["technician"]
    place = world.places["Calibration laboratory"]
    made = sit_down(gauges=[world.gauges[tag] for tag in TAGS], place=place, by=technician, now=at)
    benches = [Bench(session, technician, at) for session in made.sessions]
    for bench in benches:
        bench.prepare("20.2")
    for bench in benches[:READ]:
        point = bench.run.points.filter(void=None).order_by("sequence").first()
        assert point is not None, "a micrometer has points"
        length = point.nominal_mm + stories.error_at(bench.session.gauge, bench.content, 0, point)
        bench.send("reading", point=point.pk, raw=bench.shown(point.function, length))
