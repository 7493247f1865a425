"""What a closing zero does to the run: it holds, or the points since the last one that held are void and repeated."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.measuring.models import Point, PointVoid, Run, ZeroCheck
from instruments.measuring.operations.points import renew
from instruments.measuring.zeros import holds
from labsys.errors import LabError
from standards.register.models import Element

MOVED = "zero moved"


class ZeroAlreadySet(LabError, ValueError):
    """A zero as found, after the zero was set."""

    code: ClassVar[str] = "zero-already-set"
    sentence: ClassVar[str] = (
        "The zero was set at the start of this stage, so nobody can read any more how it was found. "
        "The reviewer may accept that it is missing."
    )


class ZeroNotVerified(LabError, ValueError):
    """A zero set anew over points whose zero nobody has looked at since."""

    code: ClassVar[str] = "zero-not-verified"
    sentence: ClassVar[str] = (
        "Expected the zero to be verified before it is set again, and {count} point{s} read since it last held. "
        "Close the faces and read the zero at the end first: setting it now would hide that it moved."
    )


def refuse_zero_out_of_turn(run: Run, kind: str) -> None:
    """Refuse a zero that can't mean what it says: as found once it was set, or set over unverified points.

    Raises ZeroAlreadySet, ZeroNotVerified.
    """
    if not run.zero_checks.filter(kind=ZeroCheck.Kind.SET).exists():
        return
    if kind == ZeroCheck.Kind.AS_FOUND:
        raise ZeroAlreadySet()
    if kind == ZeroCheck.Kind.SET:
        since = _last_held(run)
        unverified = sum(_read_since(point, since) for point in live_points(run))
        if unverified:
            raise ZeroNotVerified(count=unverified, s=" was" if unverified == 1 else "s were")


def after_closing(closing: ZeroCheck, now: datetime) -> list[Point]:
    """Void and renew the points read since the last zero that held, when the closing zero moved beyond one step.

    The second time in one session nothing is renewed: the gauge is rejected, its zero is not stable.
    """
    if holds(closing):
        return []
    run = closing.run
    moved_before = [z for z in earlier_closings(closing) if not holds(z)]
    void = [point for point in live_points(run) if _read_since(point, _last_held(run, closing))]
    for point in void:
        PointVoid.objects.create(point=point, reason=f"{MOVED}: {closing.shown} at the end", at=now)
    if moved_before:
        return []
    return [renew(point, _references(point), now) for point in void]


def earlier_closings(closing: ZeroCheck) -> list[ZeroCheck]:
    """List the closing zeros of the whole session before this one."""
    rows = ZeroCheck.objects.filter(
        run__session=closing.run.session, kind=ZeroCheck.Kind.CLOSING, pk__lt=closing.pk
    )
    return list(rows.select_related("run__session__gauge__model").order_by("pk"))


def live_points(run: Run) -> list[Point]:
    """List the points of a run that still count."""
    return list(run.points.filter(void=None).prefetch_related("readings", "references"))


def _last_held(run: Run, but: ZeroCheck | None = None) -> datetime:
    """Find the instant of the last zero in this run that held: a set one, or a closing one within a step."""
    rows = run.zero_checks.exclude(kind=ZeroCheck.Kind.AS_FOUND).order_by("-at", "-pk")
    for row in rows:
        if row != but and (row.kind == ZeroCheck.Kind.SET or holds(row)):
            return row.at
    return run.opened_at


def _read_since(point: Point, since: datetime) -> bool:
    return any(reading.measured_at >= since for reading in point.readings.all())


def _references(point: Point) -> list[tuple[Element, int]]:
    rows = point.references.select_related("element_value__element__standard__tag")
    return [(row.element_value.element, row.count) for row in rows]
