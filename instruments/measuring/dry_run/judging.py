"""A run judged as another content would judge it; what that content has no way to judge is named.

Lives here: the ground under another content, and the judging. May not live here: what differs, and why.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial

from instruments.inventory.models import GaugeModel
from instruments.measuring.dry_run.past import PastRun
from instruments.measuring.evaluation import (
    Evaluated,
    Ground,
    evaluate_point,
    evaluate_zero,
    ground_of,
    results_together,
)
from instruments.measuring.models import Point, Run, ZeroCheck
from instruments.measuring.zeros import has_zero, is_fixed, set_to_mm
from instruments.procedures.content import Content
from instruments.procedures.content.series import READS
from instruments.procedures.queries import content_of
from instruments.procedures.scales import zero_read_to_mm, zero_scale
from labsys.errors import LabError
from labsys.metrology.zero import zero_half_width, zero_holds
from labsys.pages.figures import said_amount


@dataclass(frozen=True)
class Found:
    """What a content makes of a result; ``refusal`` says why it gets no verdict, empty where it gets one."""

    evaluated: Evaluated
    refusal: str = ""


@dataclass(frozen=True)
class Judged:
    """What a content makes of a run: results, and by point or series why there is none."""

    found: tuple[Found, ...]
    unjudged: dict[int, str]
    unjudged_series: tuple[str, ...] = ()


# Asks nothing of U, so that what is refused a verdict still has its U.
ASKS_NOTHING = {"kind": "simple", "min_ratio": None, "view": "calibration"}


def ground_under(run: Run, draft: Content, *, own_rule: bool) -> Ground:
    """Give the ground of a run as it was frozen, under another content, and by that content's rule where asked."""
    ground = ground_of(run)
    basis = replace(ground.basis, rule=dict(draft.rule)) if own_rule else ground.basis
    half_width = _zero_half_width(run, ground.model, draft)
    return replace(ground, content=draft, basis=basis, zero_half_width_mm=half_width)


def judge_run(past: PastRun, ground: Ground) -> Judged:
    """Judge a run on a ground; a refusal (no limits for it, U too large for them) stands with what it refuses."""
    own = content_of(past.run.session.revision)
    found: list[Found] = []
    unjudged: dict[int, str] = {}
    for point in past.points:
        why = _no_way(point, own, ground.content)
        if not why:
            some, why = _tried(partial(_one_point, point), ground)
            found += some
        if why:
            unjudged[point.pk] = why
    zero, _none = _tried(partial(_fixed_zero, past.run), ground)
    common, refusals = _together([one.evaluated for one in found], ground)
    return Judged((*zero, *found, *common), unjudged, refusals)


def _tried(judge: Callable[[Ground], list[Evaluated]], ground: Ground) -> tuple[list[Found], str]:
    """Judge; where that is refused, once more by a rule that asks nothing, without its verdict.

    Gives the refusal beside where not even that can be: no limits are agreed for it.
    """
    try:
        return [Found(one) for one in judge(ground)], ""
    except LabError as refusal:
        said = str(refusal)
    lenient = replace(ground, basis=replace(ground.basis, rule=ASKS_NOTHING))
    try:
        found = judge(lenient)
    except LabError as refusal:
        return [], str(refusal)
    return [Found(replace(one, decision=None, verdict=None), said) for one in found], ""


def _one_point(point: Point, ground: Ground) -> list[Evaluated]:
    one = evaluate_point(point, ground)
    return [] if one is None else [one]


def _together(found: list[Evaluated], ground: Ground) -> tuple[list[Found], tuple[str, ...]]:
    """Give what points say together, result by result, so that one refusal doesn't take the others along."""
    common: list[Found] = []
    refusals: list[str] = []
    for series in ground.content.series:
        for rule in series.common_rules:
            one_alone = replace(series, results=(rule,))
            alone = replace(ground, content=replace(ground.content, series=(one_alone,)))
            some, why = _tried(partial(_common, found), alone)
            common += some
            refusals += [f"{series.name}: {why}"] if why else []
    return common, tuple(refusals)


def _common(found: list[Evaluated], ground: Ground) -> list[Evaluated]:
    return list(results_together(found, ground))


def _fixed_zero(run: Run, ground: Ground) -> list[Evaluated]:
    found = [zero for zero in run.zero_checks.all() if zero.kind == ZeroCheck.Kind.AS_FOUND]
    if not found or not is_fixed(ground.model, ground.content):
        return []
    return [evaluate_zero(found[0].value_mm, ground)]


def _no_way(point: Point, own: Content, draft: Content) -> str:
    """Say why a content can't judge the readings of a point; empty where it can."""
    code = point.function
    series, before = draft.series_of(code), own.series_of(code)
    if series is None and not _over_faces(code, draft):
        return f"The draft measures nothing under the code {code}."
    reads, read = (("indication" if one is None else one.reads) for one in (series, before))
    if reads != read:
        return f"It was read as “{READS[read]}”; the draft reads “{READS[reads]}”."
    bands = [None if one is None else one.band_mm for one in (series, before)]
    if bands[0] != bands[1]:
        return "The draft counts bands of another light, so that the count means another length."
    orders = ["" if one is None else one.order for one in (series, before)]
    if orders[0] != orders[1]:
        return (
            "The draft reads reference and gauge in another order, so that the readings mean something else."
        )
    return ""


def _over_faces(code: str, content: Content) -> bool:
    return content.points is not None and (code == "outside" or code in content.points.windows)


def _zero_half_width(run: Run, model: GaugeModel, draft: Content) -> Decimal | None:
    """Give the zero's half-width as the draft takes it; None where it has no zero that is set."""
    if is_fixed(model, draft) or not has_zero(draft):
        return None
    step_mm, steps = zero_scale(model, draft).step_mm, draft.zero.allowed_steps
    held = [
        moved for moved in closing_zeros(run, model, draft) if zero_holds(moved, step_mm, allowed_steps=steps)
    ]
    return zero_half_width(zero_read_to_mm(model, draft), max(held, key=abs, default=None))


def closing_zeros(run: Run, model: GaugeModel, draft: Content) -> list[Decimal]:
    """Give by how much each closing zero of a run differs from what the draft sets it to, in mm."""
    expected = set_to_mm(model, draft)
    return [z.value_mm - expected for z in run.zero_checks.all() if z.kind == ZeroCheck.Kind.CLOSING]


def moved_zeros(run: Run, model: GaugeModel, draft: Content) -> tuple[str, ...]:
    """Say which closing zeros of a run the draft would not take."""
    if is_fixed(model, draft) or not has_zero(draft):
        return ()
    step_mm, steps = zero_scale(model, draft).step_mm, draft.zero.allowed_steps
    return tuple(
        f"The closing zero moved by {said_amount(abs(moved), model.unit)}, more than the draft allows ({steps} × "
        f"{said_amount(step_mm, model.unit)})."
        for moved in closing_zeros(run, model, draft)
        if not zero_holds(moved, step_mm, allowed_steps=steps)
    )
