"""What ends the job for a gauge as it is: damage seen, a zero that isn't stable, readings that won't repeat."""

from __future__ import annotations

from collections.abc import Sequence

from instruments.measuring.evaluation import Evaluated, evaluate_run
from instruments.measuring.models import Check, Run, ZeroCheck
from instruments.measuring.zeros import holds
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of
from labsys.pages.figures import said_amount


def rejections(run: Run, evaluated: Sequence[Evaluated] | None = None) -> tuple[str, ...]:
    """List the reasons for which the gauge is rejected in this run, as sentences; empty: it isn't.

    ``evaluated`` are its points where the caller has them already.
    """
    content = content_of(run.session.revision)
    reasons = [*_looks(run, content), *_zero(run)]
    points = evaluate_run(run) if evaluated is None else evaluated
    unit = run.session.gauge.model.unit
    reasons.extend(_spread(item, unit) for item in points if item.is_rejected)
    return tuple(reasons)


def failed_looks(run: Run) -> list[Check]:
    """List the looks whose last answer was not good."""
    last: dict[str, Check] = {check.code: check for check in run.checks.all()}
    return [check for check in last.values() if check.answer == Check.Answer.NOT_GOOD]


def _looks(run: Run, content: Content) -> list[str]:
    """A look that wasn't good ends the job where the procedure says that it does."""
    texts = {look.code: look.text for look in content.looks if look.ends_job}
    return [
        f"Not good: {texts[check.code]}{f' ({check.note})' if check.note else ''}"
        for check in failed_looks(run)
        if check.code in texts
    ]


def _zero(run: Run) -> list[str]:
    closings = ZeroCheck.objects.filter(run__session=run.session, kind=ZeroCheck.Kind.CLOSING)
    closings = closings.select_related("run__session__gauge__model", "run__session__revision")
    closings = closings.prefetch_related("run__zero_checks")
    moved = [row for row in closings if not holds(row)]
    return ["The zero is not stable: it moved by more than one step twice."] if len(moved) >= 2 else []


def _spread(item: Evaluated, unit: str) -> str:
    assert item.repeats is not None, "only repeats are rejected"
    assert item.point is not None, "repeats are those of a point"
    return (
        f"The readings don't repeat at {item.point.said_in(unit)}: they spread over "
        f"{said_amount(item.repeats.spread_mm, unit)}."
    )
