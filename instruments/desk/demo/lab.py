"""Builds the demo laboratory in an empty database, through the operations alone, day by day.

Forty calipers and two gauges or more of every other family that a procedure ships for, about fifty sessions over
thirteen months: some gauges due, some late, one out of tolerance, one stopped by its setting rod, two submissions
waiting for the reviewer, one standard past due.
"""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.db import transaction

from instruments.certificates.models import Certificate
from instruments.certificates.operations import render
from instruments.desk.demo import histories, pairs, sittings, stories
from instruments.desk.demo.climate import hang_up, log_room
from instruments.desk.demo.holding import stock_up
from instruments.desk.demo.setting_up import first_day
from instruments.desk.demo.stories import Story
from instruments.desk.demo.world import World

FIRST_DAY = 420
RENDERED_NOW = 2
THERMOMETER_DAY = 400

# Days ago of the calipers' calibrations, in the order of their tags; due after twelve months, so that those beyond
# 365 are late today and those a little under fall due in the coming weeks.
DAYS = (
    380, 372, 368, 362, 360, 357, 355, 352, 350, 346, 343, 340, 337, 334, 330, 326, 322, 318, 313, 309,
    301, 290, 280, 270, 255, 240, 225, 210, 195, 180, 160, 140, 120, 100, 80, 60, 40, 25,
)  # fmt: skip
SPECIAL = {
    "C-0005": Story("C-0005", 360, wear_steps=1),
    "C-0009": Story("C-0009", 30, wear_steps=6, ends="held"),
    "C-0012": Story("C-0012", 340, wear_steps=5, adjusted=True),
    "C-0020": Story("C-0020", 309, technician="technician-2"),
    "C-0029": Story("C-0029", 371),
    "C-0033": Story("C-0033", 5, ends="returned", technician="technician-2"),
    "C-0034": Story("C-0034", 2, ends="waiting"),
    "C-0035": Story("C-0035", 1, ends="waiting", technician="technician-2"),
    "C-0036": Story("C-0036", 1, ends="open"),
    "C-0037": Story("C-0037", 1, ends="received"),
    "C-0038": Story("C-0038", -3, ends="called"),
}


def load(*, now: datetime) -> None:
    """Fill the empty database and make the newest files; ``now`` is when the demo's history has arrived."""
    with transaction.atomic():
        build(now=now)
    # The newest files are made now, outside the transaction; the worker makes the others, oldest first, in its minutes.
    for certificate in Certificate.objects.order_by("-pk")[:RENDERED_NOW]:
        render(certificate, now)


def build(*, now: datetime) -> World:
    """Live through the demo's history up to ``now``, without making files of its certificates; gives its names."""
    world = World(now=now)
    start = world.at(FIRST_DAY)
    first_day(world, start)
    stock_up(world, world.at(FIRST_DAY - 1))
    world.plan(world.at(THERMOMETER_DAY), partial(hang_up, world))
    _calipers(world)
    _others(world)
    _fates(world)
    pairs.bring_in(world, start)
    sittings.lay_out(world)
    world.live()
    log_room(world)
    return world


def _calipers(world: World) -> None:
    tags = sorted(tag for tag in world.gauges if tag.startswith("C-"))
    for tag, days in zip(tags, DAYS, strict=False):
        stories.calibrate(world, SPECIAL.get(tag) or Story(tag, days))
    # A history is more than one calibration: these came twice.
    for tag in ("C-0033", "C-0034", "C-0035", "C-0036", "C-0037", "C-0038", "C-0009"):
        stories.calibrate(world, Story(tag, 350 if tag == "C-0038" else 368))


def _others(world: World) -> None:
    for tag, days in histories.OUTSIDE:
        stories.outside(world, tag, days)
    for story in (*histories.HERE, *histories.READY):
        stories.calibrate(world, story)


def _fates(world: World) -> None:
    stories.state(world, "C-0022", 60, "lost", "not found after the line was moved")
    stories.state(world, "C-0024", 45, "scrapped", "jaw broken")
    stories.state(world, "C-0026", 80, "stored", "spare, in the cabinet")
    stories.state(world, "C-0028", 20, "on-loan", "with the sister plant for a trial")
    stories.restricted(world, "C-0030", 90)
    stories.damaged(world, "C-0016", 3)
