"""The zero: judged or noted as found, set once, verified at the end.

Lives here: what a closed reading means for the zero component and for the points before it. May not live here:
when it is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext

from labsys.metrology.error import to_picometres
from labsys.metrology.exact import EXACT
from labsys.metrology.limits import Limits, within_limits

MOST_LOST = 1
"""A zero may be lost once in a session; the second time the gauge is rejected."""


@dataclass(frozen=True, slots=True)
class ZeroReading:
    """One reading of the closed faces, at ``place`` in the order of everything that was done in the session."""

    place: int
    value_mm: Decimal


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of work between two zero checks: everything with ``after`` < place < ``before``."""

    after: int
    before: int

    def holds(self, place: int) -> bool:
        """Say whether a place lies within."""
        return self.after < place < self.before


@dataclass(frozen=True, slots=True)
class ZeroFinding:
    """What the zero checks of a session say.

    ``half_width_mm`` is the zero component's; points within ``void`` are kept but don't count and are repeated;
    ``verified_up_to`` is the place of the last check that held; ``is_rejected``: the zero isn't stable.
    """

    half_width_mm: Decimal
    void: tuple[Stretch, ...]
    verified_up_to: int
    is_rejected: bool


@dataclass(frozen=True, slots=True)
class AsFoundZero:
    """The zero as found, before it was set: judged against the limits where it can't be set, otherwise noted."""

    value_mm: Decimal
    is_judged: bool
    is_within: bool | None


def zero_holds(value_mm: Decimal, step_mm: Decimal, *, allowed_steps: Decimal | int = 1) -> bool:
    """Say whether a closed reading lies within ``allowed_steps`` of zero; exactly one step still holds."""
    with localcontext(EXACT):
        return abs(to_picometres(value_mm)) <= to_picometres(step_mm * allowed_steps)


def zero_half_width(step_mm: Decimal, closing_mm: Decimal | None = None) -> Decimal:
    """Give the zero component's half-width (mm): half a step, or the closing zero where that is larger."""
    with localcontext(EXACT):
        return max(step_mm / 2, abs(closing_mm or Decimal(0)))


def as_found_zero(value_mm: Decimal, *, limits: Limits, is_fixed: bool) -> AsFoundZero:
    """Judge the zero as found by the unguarded ``limits`` where it is fixed, note it where it floats."""
    return AsFoundZero(value_mm, is_fixed, within_limits(value_mm, limits) if is_fixed else None)


def judge_zeros(
    set_at: int, checks: Sequence[ZeroReading], *, step_mm: Decimal, allowed_steps: Decimal | int = 1
) -> ZeroFinding:
    """Go through the zero checks of a session in order; ``set_at`` is the place at which the zero was first set.

    A check beyond the allowed steps voids the points since the last check that held, and the zero is set again
    there; the second one rejects the gauge. The half-width takes the largest closing zero that held, so that it
    serves all points that count.
    """
    good, lost = set_at, 0
    void: list[Stretch] = []
    half_width = zero_half_width(step_mm)
    for check in sorted(checks, key=lambda one: one.place):
        if zero_holds(check.value_mm, step_mm, allowed_steps=allowed_steps):
            half_width = max(half_width, zero_half_width(step_mm, check.value_mm))
        else:
            lost += 1
            void.append(Stretch(after=good, before=check.place))
        good = check.place
    held = [one.place for one in checks if zero_holds(one.value_mm, step_mm, allowed_steps=allowed_steps)]
    return ZeroFinding(half_width, tuple(void), max(held, default=set_at), lost > MOST_LOST)
