"""A session as it is handed in: each stage with its points, zeros, looks and room, and what is still open."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal
from typing import Any

from instruments.measuring.basis import Basis
from instruments.measuring.evaluation import Evaluated, Ground, evaluate_run, ground_of
from instruments.measuring.models import Adjustment, Check, Condition, Point, Run, Session, ZeroCheck
from instruments.measuring.open_items import OpenItem
from instruments.measuring.queries.bench import observed
from instruments.measuring.rejecting import rejections
from instruments.measuring.showing import corridors, values, words
from instruments.measuring.showing.earlier import Place, earlier_of, place_of_evaluated
from instruments.measuring.showing.photos import PhotoShown, photos_of
from instruments.measuring.showing.steps import Step
from instruments.procedures.queries import content_of
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.units import Unit, from_mm
from labsys.metrology.verdicts import Verdict, roll_up
from labsys.metrology.views import View
from labsys.pages import figures
from labsys.pages.corridor import CorridorData, Earlier
from labsys.pages.corridor.words import limit_text

# Which step an open item is mended at; what isn't named here belongs to the plan of points, or to nobody at the bench.
_MENDED_AT = {
    "conditions-missing": Step.ROOM,
    "temperature-out": Step.ROOM,
    "humidity-out": Step.ROOM,
    "soak-short": Step.ROOM,
    "log-gap": Step.ROOM,
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
    corridor: CorridorData | None
    error: str
    uncertainty: str
    limits: tuple[str, str]
    verdict: str
    readings: int
    struck: int


@dataclass(frozen=True)
class LookSaid:
    """A look with its last answer."""

    text: str
    answer: str
    note: str
    who: str

    @property
    def is_bad(self) -> bool:
        """Say whether it was not good."""
        return self.answer == Check.Answer.NOT_GOOD

    @property
    def answer_words(self) -> str:
        """Give the answer in words."""
        return Check.Answer(self.answer).label


@dataclass(frozen=True)
class Stage:
    """One run with everything observed in it, and what it comes to."""

    run: Run
    name: str
    before: tuple[Adjustment, ...]
    lines: tuple[PointLine, ...]
    zeros: tuple[ZeroCheck, ...]
    looks: tuple[LookSaid, ...]
    conditions: tuple[Condition, ...]
    void: tuple[Point, ...]
    rejections: tuple[str, ...]
    verdict: str | None
    photos: tuple[PhotoShown, ...] = ()

    @property
    def looks_words(self) -> str:
        """Count the answers: 12 good, 1 not good."""
        counted = Counter(look.answer_words for look in self.looks)
        return ", ".join(f"{count} {words}" for words, count in counted.items()) or "not answered"


@dataclass(frozen=True)
class Mending:
    """An open item with where it is mended: a step, the plan, or nowhere at the bench."""

    item: OpenItem
    where: str


def stages(session: Session) -> tuple[Stage, ...]:
    """Sum up every run of a session, as found first; each later one is drawn with what was found before."""
    found: dict[Place, Earlier] = {}
    summed: list[Stage] = []
    adjusted: dict[int, list[Adjustment]] = defaultdict(list)
    for row in session.adjustments.select_related("by").order_by("at", "pk"):
        adjusted[row.after_run_id].append(row)
    void: dict[int, list[Point]] = defaultdict(list)
    for point in Point.objects.filter(run__session=session).exclude(void=None).select_related("void"):
        void[point.run_id].append(point)
    for run in session.runs.prefetch_related(*observed()).order_by("opened_at", "pk"):
        evaluated = evaluate_run(run)
        before = tuple(adjusted[summed[-1].run.pk]) if summed else ()
        summed.append(_stage(run, evaluated, dict(found), before, tuple(void[run.pk])))
        if not found:
            found = earlier_of(evaluated)
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
    run: Run,
    evaluated: list[Evaluated],
    found: dict[Place, Earlier],
    before: tuple[Adjustment, ...],
    void: tuple[Point, ...],
) -> Stage:
    rejected, ground = rejections(run, evaluated), ground_of(run)
    verdicts = [item.verdict for item in evaluated if item.verdict is not None]
    verdict = (
        roll_up([*verdicts, *([Verdict.NOT_ACCEPTED] if rejected else [])]) if verdicts or rejected else None
    )
    return Stage(
        run=run,
        name=run.get_stage_display() + (f", attempt {run.attempt}" if run.attempt > 1 else ""),
        before=before,
        lines=tuple(_line(item, ground, found) for item in evaluated),
        zeros=tuple(run.zero_checks.all()),
        looks=_looks(run),
        conditions=tuple(run.conditions.all()),
        void=void,
        rejections=rejected,
        verdict=None if verdict is None else str(verdict),
        photos=photos_of(run, content_of(run.session.revision)),
    )


def _line(item: Evaluated, ground: Ground, found: dict[Place, Earlier]) -> PointLine:
    place = place_of_evaluated(item)
    data = corridors.of_evaluated(item, ground, label_of(item, ground), found.get(place) if place else None)
    readings = [] if item.point is None else list(item.point.readings.all())
    return PointLine(
        label=label_of(item, ground),
        corridor=data,
        error=values.value_text(item, ground),
        uncertainty=_spread(item, ground, data),
        limits=("–", "–") if data is None else _limits(data),
        verdict="" if item.verdict is None else str(item.verdict),
        readings=len(readings),
        struck=sum(1 for reading in readings if hasattr(reading, "strike")),
    )


def label_of(item: Evaluated, ground: Ground) -> str:
    """Name a result: its point, what several points have together, or the zero."""
    if item.is_common:
        return item.name
    return (
        "Zero as found" if item.point is None else words.point(item.point, ground.model.unit, ground.content)
    )


def _spread(item: Evaluated, ground: Ground, data: CorridorData | None) -> str:
    """Write the U that decides; where nothing is decided, that of the calibration."""
    if item.views is None:
        return ""
    if data is not None and data.U_mm is not None:
        shown, name = data.shown(data.U_mm), data.U_name
    else:
        U_mm = from_picometres(to_picometres(item.views.calibration.U_mm))
        shown, name = from_mm(U_mm, Unit(ground.model.unit)), corridors.U_NAMES[View.CALIBRATION]
    return figures.with_unit(f"{name} {figures.plain(significant(shown))}", ground.model.unit)


def significant(value: Decimal) -> Decimal:
    """Round a spread to two significant digits, up, for reading only: what is reported is rounded by the procedure."""
    if value == 0:
        return value
    return value.quantize(Decimal(1).scaleb(value.adjusted() - 1), rounding=ROUND_UP)


def _limits(data: CorridorData) -> tuple[str, str]:
    """Write both limits, a dash where there is none."""
    found = (data.lower_mm, data.upper_mm)
    lower, upper = ("–" if limit is None else limit_text(data, limit) for limit in found)
    return lower, figures.with_unit(upper, data.unit)


def _looks(run: Run) -> tuple[LookSaid, ...]:
    texts = {look.code: look.text for look in content_of(run.session.revision).looks}
    last = {check.code: check for check in run.checks.all()}
    return tuple(
        LookSaid(texts.get(code, code), check.answer, check.note, check.by.name)
        for code, check in last.items()
    )


def ground_shown(session: Session) -> dict[str, Any]:
    """Give what pages say of the ground a session is judged on: limits with their source, the rule in words."""
    basis = Basis.load(session.basis)
    return {"basis": basis, "rule": basis.decision_rule().words}
