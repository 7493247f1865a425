"""Everything the page of a session shows at one step, put together once for the page and for each answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from instruments.measuring.models import Condition, Session
from instruments.measuring.queries import Bench, BenchPoint, bench_of
from instruments.measuring.showing import covered, looks, rooms, steps, targets, words
from instruments.measuring.showing.photos import PhotoShown
from instruments.measuring.showing.steps import Step
from labsys.pages import figures


@dataclass(frozen=True)
class Following:
    """Where the page leads to from here: the words of the link, and what its address asks for."""

    words: str
    query: str


@dataclass(frozen=True)
class Page:
    """One step of a session as it is shown."""

    bench: Bench
    step: Step
    target: targets.Target | None
    covered: covered.Covered

    @property
    def session(self) -> Session:
        """Give the session."""
        return self.bench.session

    @property
    def steps(self) -> tuple[steps.StepState, ...]:
        """List the steps for the head."""
        return steps.steps_of(self.bench)

    @property
    def stage(self) -> str:
        """Name the stage."""
        return steps.stage_of(self.bench)

    @property
    def room(self) -> Condition | None:
        """Give what was noted last of the room."""
        return looks.latest(self.bench)

    @property
    def room_clock(self) -> str:
        """Give when the room was noted."""
        return words.clock(self.room.at) if self.room else ""

    @property
    def following(self) -> Following | None:
        """Say where to go on to from here."""
        return following(self.bench, self.step, self.target.point if self.target else None)

    @property
    def error_text(self) -> str:
        """Give the error of what is judged here, in the gauge's unit; empty before a reading."""
        if self.target is None or self.target.corridor is None or not self.target.corridor.is_read:
            return ""
        data = self.target.corridor
        return figures.signed(data.shown(data.error_mm), places=self.error_places)

    @property
    def error_places(self) -> int:
        """Give the decimals of errors."""
        ground = self.bench.ground
        code = self.target.point.point.function if self.target and self.target.point else ""
        return words.error_places(ground.model, ground.content, code)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Give what is wrong with the room of this run."""
        return looks.warnings(self.bench)

    @property
    def lines(self) -> tuple[looks.LookLine, ...]:
        """List the looks."""
        return looks.lines(self.bench)

    @property
    def unanswered(self) -> tuple[str, ...]:
        """Name what a step before measuring still asks for: the codes of its looks, or the room."""
        if self.step is Step.ROOM:
            return () if self.room else (Step.ROOM.value,)
        return tuple(line.look.code for line in self.lines if line.check is None)

    @property
    def ends(self) -> tuple[str, ...]:
        """Name the looks that end the job where they aren't good."""
        return tuple(line.look.code for line in self.lines if line.look.ends_job)

    @property
    def whole_photos(self) -> tuple[PhotoShown, ...]:
        """List the photos of the gauge as a whole."""
        return looks.photos_of_whole(self.bench)


def shown(session: Session, *, step: str = "", point: int | None = None) -> Page:
    """Work out the page of a session: the step and point asked for, otherwise what comes next."""
    return at(bench_of(session), step=step, point=point)


def at(bench: Bench, *, step: str = "", point: int | None = None) -> Page:
    """Work out the page at another step or point of what was read already."""
    here = _step(bench, step, point)
    target = _target(bench, here, point) if here in steps.READ_STEPS else None
    return Page(bench, here, target, covered.covered(bench, target.point if target else None))


MOST_AHEAD = 60
"""Points whose pages a tablet takes along at once; a set of blocks has hundreds, and it asks again on the way."""

MOST_TAKEN = 400
"""Points that it takes along at once to where there is no network to ask again on."""


@dataclass(frozen=True)
class Ahead:
    """The pages of what is read next, in the order they are gone through; ``is_all``: there is nothing beyond them.

    ``before`` are the steps at which nothing is read, the looks and the room.
    """

    pages: tuple[Page, ...]
    is_all: bool
    before: tuple[Page, ...] = ()


def ahead(session: Session, most: int = MOST_AHEAD) -> Ahead:
    """Work out the pages of the targets that still want a reading, so that a tablet can go on without the network."""
    bench = bench_of(session)
    lacking = [found for found in bench.points if steps.lacking(found, bench)]
    points, said = lacking[:most], covered.sentence(bench)
    pages = [
        Page(bench, Step.POINTS, targets.at_point(bench, found), covered.covered(bench, found, said))
        for found in points
    ]
    zeros = [
        state.step for state in steps.steps_of(bench) if state.step in steps.READ_STEPS and not state.is_done
    ]
    before = [_zero_page(bench, step) for step in zeros if step not in (Step.POINTS, Step.CLOSING)]
    after = [_zero_page(bench, step) for step in zeros if step is Step.CLOSING]
    is_all = len(points) == len(lacking)
    steps_before = tuple(
        Page(bench, step, None, covered.covered(bench, None, said)) for step in (Step.LOOKS, Step.ROOM)
    )
    return Ahead((*before, *pages, *(after if is_all else [])), is_all, steps_before)


def _zero_page(bench: Bench, step: Step) -> Page:
    return Page(bench, step, targets.at_zero(bench, step), covered.covered(bench, None))


def following(bench: Bench, step: Step, here: BenchPoint | None) -> Following | None:
    """Find what comes after this step or point; None where nothing does."""
    if step is Step.POINTS and here is not None:
        after = steps.following(bench, here)
        if after is not None and after.point.pk != here.point.pk:
            label = words.point(after.point, bench.ground.model.unit, bench.ground.content)
            return Following(label, f"point={after.point.pk}")
        if after is not None:
            return None
    rest = steps.next_step(bench)
    if rest is step:
        order = [state.step for state in steps.steps_of(bench)]
        rest = order[min(order.index(step) + 1, len(order) - 1)]
    return Following(steps.LABELS[rest], f"step={rest.value}")


def _step(bench: Bench, asked: str, point: int | None) -> Step:
    if point is not None and any(found.point.pk == point for found in bench.points):
        return Step.POINTS
    offered = {state.step.value: state.step for state in steps.steps_of(bench)}
    return offered.get(asked) or steps.next_step(bench)


def _target(bench: Bench, step: Step, point: int | None) -> targets.Target | None:
    if step is not Step.POINTS:
        return targets.at_zero(bench, step)
    found = steps.point_of(bench, point)
    return None if found is None else targets.at_point(bench, found)


def room_of(page: Page, now: datetime) -> dict[str, Any]:
    """Give what the step of the room shows besides."""
    return {
        "room": looks.room(page.bench, now),
        "limits": page.bench.ground.content.conditions,
        "soak": rooms.soak_shown(page.bench, now),
        "waits": rooms.waits(page.bench, now),
        "offers": rooms.offers(page.bench, now),
    }
