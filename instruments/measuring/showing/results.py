"""Results as they were stored: each with its picture, both budgets share by share, its readings and references."""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch

from instruments.inventory.models import GaugeModel
from instruments.measuring.models import Point, PointReference, Reading, Result, Review, Run, Submission
from instruments.measuring.queries import calibrated_on
from instruments.measuring.showing import corridors, words
from instruments.measuring.showing.earlier import Place, place_of_result
from instruments.measuring.showing.spreads import Manner
from labsys.metrology.budget import Budget
from labsys.metrology.budget import Row as BudgetRow
from labsys.metrology.reporting import percent, shape_words
from labsys.metrology.units import Unit
from labsys.metrology.views import VIEW_WORDS, View, Views
from labsys.pages.corridor import CorridorData, Earlier

WIDTH = 96
"""Pixels of a bar that stands for the whole variance."""

# A budget names the calibration it took a value from as the journal does; people read the element's label instead.
_SUBJECT = re.compile(r",? ?calibration:\d+")


@dataclass(frozen=True)
class Share:
    """A component's share of the variance: as a bar, and in percent."""

    bar: float
    percent: str


@dataclass(frozen=True)
class ComponentLine:
    """One component: what it adds in the fine unit, where that comes from, its share in each view (None: not in it)."""

    name: str
    source: str
    contribution: str
    calibration: Share | None
    test_value: Share | None


@dataclass(frozen=True)
class BudgetShown:
    """One view of the uncertainty; ``is_named`` where the decision rule uses it."""

    name: str
    is_named: bool
    expanded: str
    how: str


@dataclass(frozen=True)
class Before:
    """The same point at the last calibration of the gauge."""

    on: date
    error: str


@dataclass(frozen=True)
class ResultShown:
    """One result with everything that a second person looks at."""

    label: str
    corridor: CorridorData | None
    error: str
    spreads: tuple[str, ...]
    verdict: str
    conformance: str
    note: str
    budgets: tuple[BudgetShown, ...]
    components: tuple[ComponentLine, ...]
    components_unit: str
    readings: tuple[Reading, ...]
    references: tuple[str, ...]
    before: Before | None


@dataclass(frozen=True)
class StageShown:
    """The results of one run."""

    name: str
    results: tuple[ResultShown, ...]


def stages_of(submission: Submission) -> tuple[StageShown, ...]:
    """Show the results of a submission stage by stage, each beside the last calibration of the same gauge."""
    by_run: dict[int, list[Result]] = defaultdict(list)
    for result in _results(submission):
        by_run[result.run_id].append(result)
    last = _last_calibration(submission)
    found: dict[Place, Earlier] = {}
    stages, manner = [], Manner.of(submission.session)
    for run in submission.session.runs.order_by("opened_at", "pk"):
        stages.append(_stage(run, by_run[run.pk], manner, found, last))
        found = found or {
            place: Earlier(r.value_mm, r.verdict) for place, r in _by_place(by_run[run.pk]) if r.verdict
        }
    return tuple(stages)


def _stage(
    run: Run,
    results: list[Result],
    manner: Manner,
    found: dict[Place, Earlier],
    last: dict[Place, Before],
) -> StageShown:
    again = f", attempt {run.attempt}" if run.attempt > 1 else ""
    shown = tuple(_result(result, manner, found, last) for result in results)
    return StageShown(f"{run.get_stage_display()}{again}", shown)


def _result(
    result: Result, manner: Manner, found: dict[Place, Earlier], last: dict[Place, Before]
) -> ResultShown:
    model, place = manner.model, place_of_result(result)
    data = corridors.of_result(result, model, manner.content, found.get(place) if place else None)
    decision = json.loads(result.decision)
    views = Views.from_json(json.loads(result.budget)) if result.budget else None
    named = View(decision["view"]) if "view" in decision else View.CALIBRATION
    points = list(result.points.all())
    # Of what several points have together, the two that it lies between say enough.
    shown = [point for point in points if point.pk in decision.get("between", ())] or points[:1]
    return ResultShown(
        label=corridors.of_label(result, model, manner.content),
        corridor=data,
        error=manner.value(result),
        spreads=() if views is None else manner.spreads(result, named),
        verdict=result.verdict,
        conformance=_chance(float(decision["conformance_probability"])) if "view" in decision else "",
        note=decision.get("note", ""),
        budgets=() if views is None else _budgets(result, views, named, manner),
        components=() if views is None else _components(views, model.quantity.fine),
        components_unit=model.quantity.fine.value,
        readings=tuple(reading for point in shown for reading in point.readings.all()),
        references=tuple(
            dict.fromkeys(_reference(row, model) for point in shown for row in point.references.all())
        ),
        before=last.get(place) if place else None,
    )


def _reference(row: PointReference, model: GaugeModel) -> str:
    element = row.element_value.element
    times = f" × {row.count}" if row.count > 1 else ""
    value = words.length(row.nominal_mm + row.deviation_mm, model.unit)
    return f"{element.standard.tag} {element.label}{times}, value used {value}"


def _budgets(result: Result, views: Views, named: View, manner: Manner) -> tuple[BudgetShown, ...]:
    expanded = {
        View.CALIBRATION: result.U_mm or Decimal(0),
        View.TEST_VALUE: result.U_test_mm or Decimal(0),
    }
    return tuple(_budget(view, views.of(view), expanded[view], view is named, manner) for view in View)


def _budget(view: View, budget: Budget, U_mm: Decimal, is_named: bool, manner: Manner) -> BudgetShown:
    return BudgetShown(
        name=VIEW_WORDS[view],
        is_named=is_named,
        expanded=manner.spread(U_mm),
        how=f"k = {budget.k:.2f}, {shape_words(budget)}, covering about {percent(budget.probability)}",
    )


def _components(views: Views, fine: Unit) -> tuple[ComponentLine, ...]:
    """Put both budgets side by side, component by component, in the order of the calibration's."""
    per_base = float(1 / fine.factor_mm)
    calibration, test_value = (_named(views.of(view)) for view in (View.CALIBRATION, View.TEST_VALUE))
    return tuple(
        ComponentLine(
            name=row.component.name,
            source=_SUBJECT.sub("", row.component.source),
            contribution=f"{abs(row.contribution_mm) * per_base:.3g}",
            calibration=_share(calibration.get(key)),
            test_value=_share(test_value.get(key)),
        )
        for key, row in {**calibration, **_missing(test_value, calibration)}.items()
    )


def _missing(
    some: dict[tuple[str, int], BudgetRow], others: dict[tuple[str, int], BudgetRow]
) -> dict[tuple[str, int], BudgetRow]:
    return {key: row for key, row in some.items() if key not in others}


def _named(budget: Budget) -> dict[tuple[str, int], BudgetRow]:
    """Give the rows of a budget by name; the second of a name counts as another component."""
    seen: Counter[str] = Counter()
    found = {}
    for row in budget.rows:
        name = row.component.name
        found[name, seen[name]] = row
        seen[name] += 1
    return found


def _share(row: BudgetRow | None) -> Share | None:
    if row is None:
        return None
    bar = round(max(0.0, min(1.0, row.share)) * WIDTH, 1)
    return Share(bar, f"{row.share * 100:.1f} %")


def _chance(probability: float) -> str:
    """Write a probability in percent to a tenth, never as certain."""
    if probability > 0.999:
        return "more than 99.9 %"
    return "less than 0.1 %" if probability < 0.001 else f"{probability * 100:.1f} %"


def _results(submission: Submission) -> list[Result]:
    points = Point.objects.select_related("member").prefetch_related(
        Prefetch("readings", Reading.objects.select_related("read_by", "strike__by")),
        "references__element_value__element__standard__tag",
    )
    return list(submission.results.prefetch_related(Prefetch("points", points)))


def _by_place(results: list[Result]) -> Iterator[tuple[Place, Result]]:
    for result in results:
        place = place_of_result(result)
        if place is not None:
            yield place, result


def _last_calibration(submission: Submission) -> dict[Place, Before]:
    """Find the errors of the last approved session of the gauge before this one, as it was left."""
    session = submission.session
    rows = Submission.objects.filter(
        session__gauge=session.gauge_id,
        review__decision=Review.Decision.APPROVED,
        submitted_at__lt=submission.submitted_at,
    ).exclude(session=session)
    last = rows.select_related("session__gauge__model").order_by("-submitted_at").first()
    if last is None:
        return {}
    on, manner = calibrated_on(last.session), Manner.of(last.session)
    newest = last.session.runs.order_by("opened_at", "pk").last()
    results = [result for result in _results(last) if newest is not None and result.run_id == newest.pk]
    return {place: Before(on, manner.value(result)) for place, result in _by_place(results)}
