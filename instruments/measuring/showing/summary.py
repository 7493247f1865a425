"""A session as it is handed in: each stage with its points, zeros, looks and room, and what is still open."""

from __future__ import annotations

from dataclasses import dataclass

from instruments.measuring.evaluation import Evaluated, evaluate_run, ground_of
from instruments.measuring.models import Adjustment, Check, Condition, Point, Run, Session, ZeroCheck
from instruments.measuring.open_items import OpenItem
from instruments.measuring.queries.bench import observed
from instruments.measuring.rejecting import failed_looks, rejections
from instruments.measuring.showing import corridors, words
from instruments.measuring.showing.earlier import Place, place_of
from instruments.measuring.showing.steps import Step
from labsys.metrology.verdicts import Verdict, roll_up
from labsys.pages import figures
from labsys.pages.corridor import CorridorData, Earlier

# Which step an open item is mended at; what isn't named here belongs to the plan of points, or to nobody at the bench.
_MENDED_AT = {
    "conditions-missing": Step.ROOM,
    "temperature-out": Step.ROOM,
    "humidity-out": Step.ROOM,
    "zero-as-found": Step.ZERO_FOUND,
    "zero-set": Step.ZERO_SET,
    "zero-set-again": Step.ZERO_SET,
    "zero-closing": Step.CLOSING,
    "points": Step.POINTS,
}
PLAN = "plan"
_OF_THE_PLAN = ("outside-", "window-", "standard-")


@dataclass(frozen=True)
class PointLine:
    """One point of a stage: its name, picture, error, U and verdict; how many readings, and of these struck."""

    label: str
    corridor: CorridorData
    error: str
    uncertainty: str
    verdict: str
    readings: int
    struck: int


@dataclass(frozen=True)
class Stage:
    """One run with everything observed in it, and what it comes to."""

    run: Run
    name: str
    before: tuple[Adjustment, ...]
    lines: tuple[PointLine, ...]
    zeros: tuple[ZeroCheck, ...]
    failed: tuple[Check, ...]
    conditions: tuple[Condition, ...]
    void: tuple[Point, ...]
    rejections: tuple[str, ...]
    verdict: str | None


@dataclass(frozen=True)
class Mending:
    """An open item with where it is mended: a step, the plan, or nowhere at the bench."""

    item: OpenItem
    where: str


def stages(session: Session) -> tuple[Stage, ...]:
    """Sum up every run of a session, as found first; each later one is drawn with what was found before."""
    found: dict[Place, Earlier] = {}
    summed: list[Stage] = []
    for run in session.runs.prefetch_related(*observed()).order_by("opened_at", "pk"):
        evaluated = evaluate_run(run)
        before = (
            session.adjustments.filter(after_run=summed[-1].run) if summed else session.adjustments.none()
        )
        summed.append(_stage(run, evaluated, dict(found), tuple(before.select_related("by"))))
        if not found:
            found = {
                place_of(item.point): Earlier(item.error_mm, str(item.decision.verdict))
                for item in evaluated
                if item.point is not None
            }
    return tuple(summed)


def mendings(items: tuple[OpenItem, ...], run_id: int) -> tuple[Mending, ...]:
    """Say of each open item where it is mended; what stands open in an earlier run can't be mended any more."""
    return tuple(Mending(item, _where(item, run_id)) for item in items)


def _where(item: OpenItem, run_id: int) -> str:
    if item.run_id not in (run_id, None):
        return ""
    if item.code.startswith("looks-"):
        return Step.LOOKS.value
    if item.code.startswith(_OF_THE_PLAN):
        return PLAN
    step = _MENDED_AT.get(item.code)
    return step.value if step else ""


def _stage(
    run: Run, evaluated: list[Evaluated], found: dict[Place, Earlier], before: tuple[Adjustment, ...]
) -> Stage:
    rejected = rejections(run, evaluated)
    verdicts = [item.decision.verdict for item in evaluated]
    verdict = (
        roll_up([*verdicts, *([Verdict.NOT_ACCEPTED] if rejected else [])]) if verdicts or rejected else None
    )
    return Stage(
        run=run,
        name=run.get_stage_display() + (f", attempt {run.attempt}" if run.attempt > 1 else ""),
        before=before,
        lines=tuple(_line(run, item, found) for item in evaluated),
        zeros=tuple(run.zero_checks.all()),
        failed=tuple(failed_looks(run)),
        conditions=tuple(run.conditions.all()),
        void=tuple(run.points.exclude(void=None).select_related("void")),
        rejections=rejected,
        verdict=None if verdict is None else str(verdict),
    )


def _line(run: Run, item: Evaluated, found: dict[Place, Earlier]) -> PointLine:
    ground = ground_of(run)
    label = "Zero as found" if item.point is None else words.point(item.point, ground.model.unit)
    earlier = None if item.point is None else found.get(place_of(item.point))
    data = corridors.of_evaluated(item, ground, label, earlier)
    readings = [] if item.point is None else list(item.point.readings.all())
    places = corridors.error_places(ground.model)
    return PointLine(
        label=label,
        corridor=data,
        error=figures.with_unit(figures.signed(data.shown(item.error_mm), places=places), data.unit),
        uncertainty="" if data.U_mm is None else figures.with_unit(f"{data.shown(data.U_mm):.2g}", data.unit),
        verdict=str(item.decision.verdict),
        readings=len(readings),
        struck=sum(1 for reading in readings if hasattr(reading, "strike")),
    )
