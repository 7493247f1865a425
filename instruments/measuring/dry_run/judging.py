"""A run judged as another content would judge it; what that content has no way to judge is named.

Lives here: the ground under another content, and the judging. May not live here: what differs, and why.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

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
from labsys.metrology.exact import plain
from labsys.metrology.zero import zero_half_width, zero_holds


@dataclass(frozen=True)
class Judged:
    """What a content makes of a run: results, and by point why there is none."""

    found: tuple[Evaluated, ...]
    unjudged: dict[int, str]
    refusals: tuple[str, ...] = ()


def ground_under(run: Run, draft: Content, *, own_rule: bool) -> Ground:
    """Give the ground of a run as it was frozen, under another content, and by that content's rule where asked."""
    ground = ground_of(run)
    basis = replace(ground.basis, rule=dict(draft.rule)) if own_rule else ground.basis
    half_width = _zero_half_width(run, ground.model, draft)
    return replace(ground, content=draft, basis=basis, zero_half_width_mm=half_width)


def judge_run(past: PastRun, ground: Ground) -> Judged:
    """Judge a run on a ground; a refusal (no limits for it, the ratio too low) stands with what it refuses."""
    own = content_of(past.run.session.revision)
    found: list[Evaluated] = []
    unjudged: dict[int, str] = {}
    for point in past.points:
        why = _no_way(point, own, ground.content)
        if not why:
            try:
                one = evaluate_point(point, ground)
            except LabError as refusal:
                why = str(refusal)
            else:
                found += [] if one is None else [one]
        if why:
            unjudged[point.pk] = why
    common, refusals = _together(found, ground)
    return Judged((*_fixed_zero(past.run, ground), *found, *common), unjudged, refusals)


def _together(found: list[Evaluated], ground: Ground) -> tuple[list[Evaluated], tuple[str, ...]]:
    """Give what points say together, series by series, so that one refusal doesn't take the others along."""
    common: list[Evaluated] = []
    refusals: list[str] = []
    for series in ground.content.series:
        alone = replace(ground, content=replace(ground.content, series=(series,)))
        try:
            common += results_together(found, alone)
        except LabError as refusal:
            refusals.append(f"{series.name}: {refusal}")
    return common, tuple(refusals)


def _fixed_zero(run: Run, ground: Ground) -> Iterator[Evaluated]:
    found = [zero for zero in run.zero_checks.all() if zero.kind == ZeroCheck.Kind.AS_FOUND]
    if found and is_fixed(ground.model, ground.content):
        yield evaluate_zero(found[0].value_mm, ground)


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
        f"The closing zero moved by {plain(abs(moved)):f} mm, more than the draft allows ({steps} × "
        f"{plain(step_mm):f} mm)."
        for moved in closing_zeros(run, model, draft)
        if not zero_holds(moved, step_mm, allowed_steps=steps)
    )
