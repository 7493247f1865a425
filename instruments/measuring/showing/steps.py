"""Where a session stands: the steps of a run in their order, which are done, which comes next."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from instruments.measuring.evaluation import Evaluated
from instruments.measuring.models import Reading, Result, Run
from instruments.measuring.queries import Bench, BenchPoint
from instruments.measuring.zeros import has_zero, is_fixed
from labsys.metrology.limits import within_limits


class Step(StrEnum):
    """One stretch of a run; the value stands in addresses."""

    LOOKS = "looks"
    ROOM = "room"
    ZERO_FOUND = "zero-as-found"
    ZERO_SET = "zero-set"
    POINTS = "points"
    CLOSING = "closing-zero"
    HAND_IN = "hand-in"


LABELS = {
    Step.LOOKS: "Looks",
    Step.ROOM: "Room",
    Step.ZERO_FOUND: "Zero found",
    Step.ZERO_SET: "Zero set",
    Step.POINTS: "Points",
    Step.CLOSING: "Closing zero",
    Step.HAND_IN: "Hand in",
}

# What in the list of open items keeps a step open.
_OPEN = {
    Step.ROOM: ("conditions-missing",),
    Step.ZERO_FOUND: ("zero-as-found",),
    Step.ZERO_SET: ("zero-set", "zero-set-again"),
    Step.CLOSING: ("zero-closing",),
}

_ZEROS = (Step.ZERO_FOUND, Step.ZERO_SET, Step.CLOSING)

READ_STEPS = (Step.ZERO_FOUND, Step.ZERO_SET, Step.POINTS, Step.CLOSING)
"""Steps at which something is read and typed into the one field."""


@dataclass(frozen=True)
class StepState:
    """A step as the head of the page shows it; ``count`` is empty but for the points (3 of 9)."""

    step: Step
    label: str
    is_done: bool
    count: str = ""


def steps_of(bench: Bench) -> tuple[StepState, ...]:
    """List the steps of the run under way; a zero that can't be set has none of its own."""
    return tuple(
        StepState(step, LABELS[step], _ticked(bench, step), _count(bench) if step is Step.POINTS else "")
        for step in Step
        if step in _applying(bench)
    )


def _applying(bench: Bench) -> tuple[Step, ...]:
    """Give the steps that there are: a zero that can't be set isn't, and some gauges have none."""
    content = bench.ground.content
    if not has_zero(content):
        return tuple(step for step in Step if step not in _ZEROS)
    if is_fixed(bench.ground.model, content):
        return tuple(step for step in Step if step is not Step.ZERO_SET)
    return tuple(Step)


def next_step(bench: Bench) -> Step:
    """Find the first step that isn't done. A rejected gauge skips what is read: its job ended there."""
    left = (Step.LOOKS, Step.ROOM) if bench.rejections else tuple(Step)
    return next(
        (step for step in left if step is not Step.HAND_IN and not _is_done(bench, step)), Step.HAND_IN
    )


def lacking(found: BenchPoint, bench: Bench) -> int:
    """Count the readings that a point still wants: those of the procedure, and one repeat of what was out."""
    return max(0, wanted(found, bench) - _counted(found))


def wanted(found: BenchPoint, bench: Bench) -> int:
    """Count the readings that a point needs in all. One out of its limits asks for a repeat; nothing is averaged."""
    needed = bench.ground.content.repeats_at(found.point.function)
    return needed + 1 if out_readings(found) else needed


def out_readings(found: BenchPoint) -> int:
    """Count the readings of a point that count and lie outside its plain limits; what doesn't fit is out."""
    evaluated = found.evaluated
    if evaluated is None or evaluated.verdict is None or evaluated.in_rounds:
        return 0
    return sum(is_out(reading, evaluated) for reading in found.readings if not hasattr(reading, "strike"))


def is_out(reading: Reading, evaluated: Evaluated) -> bool:
    """Say whether a reading by itself lies outside the plain limits of its point."""
    if evaluated.kind == Result.Kind.ATTRIBUTE:
        return not reading.value
    if evaluated.in_rounds:
        return False
    return evaluated.decision is not None and not within_limits(
        reading.value_mm - evaluated.held_mm, evaluated.limits
    )


def next_point(bench: Bench) -> BenchPoint | None:
    """Find the point to read next: the first without a reading, then the first that lacks a repeat."""
    unread = (found for found in bench.points if not found.is_done)
    return next(unread, None) or next((found for found in bench.points if lacking(found, bench)), None)


def point_of(bench: Bench, wanted_id: int | None) -> BenchPoint | None:
    """Find the live point that an address names, otherwise the next one, otherwise the last."""
    named = next((found for found in bench.points if found.point.pk == wanted_id), None)
    return named or next_point(bench) or (bench.points[-1] if bench.points else None)


def following(bench: Bench, here: BenchPoint) -> BenchPoint | None:
    """Find the point to go on to from here: the next unread one after it, otherwise any other that lacks something."""
    place = bench.points.index(here)
    after = (*bench.points[place + 1 :], *bench.points[:place])
    return next((found for found in after if lacking(found, bench)), None)


def codes(bench: Bench) -> set[str]:
    """Give the codes of what is open in the run under way."""
    return {item.code for item in bench.open_items if item.run_id == bench.run.pk}


def _ticked(bench: Bench, step: Step) -> bool:
    """A rejected gauge owes no readings; those that were not taken are not ticked as if they were."""
    return _is_done(bench, step) and not (bench.rejections and step in READ_STEPS)


def _is_done(bench: Bench, step: Step) -> bool:
    found = codes(bench)
    if step is Step.LOOKS:
        return f"looks-{bench.run.stage}" not in found
    if step is Step.POINTS:
        return bool(bench.points) and not any(lacking(point, bench) for point in bench.points)
    if step is Step.HAND_IN:
        return False
    return not found.intersection(_OPEN[step])


def _count(bench: Bench) -> str:
    done = sum(1 for found in bench.points if found.is_done)
    return f"{done} of {len(bench.points)}"


def _counted(found: BenchPoint) -> int:
    return sum(1 for reading in found.readings if not hasattr(reading, "strike"))


def stage_of(bench: Bench) -> str:
    """Name the stage of the run under way, with its attempt from the second on."""
    run: Run = bench.run
    again = f", attempt {run.attempt}" if run.attempt > 1 else ""
    return f"{run.get_stage_display()}{again}"
