"""Repeats of one point: which reading is judged, and whether the readings agree well enough.

Lives here: the rule for conformity readings, which are never averaged. May not live here: striking readings,
means of comparisons.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext

from labsys.errors import LabError
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.exact import EXACT
from labsys.metrology.limits import Limits


class NothingRead(LabError, ValueError):
    """A point without a reading that counts."""

    code = "nothing-read"
    sentence = "Expected at least one reading that counts, found none. Take the point."


@dataclass(frozen=True, slots=True)
class Repeats:
    """What the repeats of a point say.

    ``error_mm`` at ``index`` is judged; ``spread_mm`` is largest minus smallest, ``allowed_mm`` the most it may
    be (None: not limited); ``is_rejected`` where it's more.
    """

    index: int
    error_mm: Decimal
    spread_mm: Decimal
    allowed_mm: Decimal | None
    is_rejected: bool


def spread_allowed(limits: Limits, *, spread_limit_mm: Decimal | None) -> Decimal | None:
    """Give the most that repeats may spread over (mm): the own limit, otherwise half the width of ``limits``.

    None where there's neither: a limit on one side has no width, so that its family has to name a limit of its own.
    """
    if spread_limit_mm is not None or limits.width_mm is None:
        return spread_limit_mm
    with localcontext(EXACT):
        return limits.width_mm / 2


def judge_repeats(
    errors_mm: Sequence[Decimal], *, limits: Limits, spread_limit_mm: Decimal | None = None
) -> Repeats:
    """Pick the error with the least margin to a limit (the first of equals) and compare the spread with what is
    allowed.

    A spread on its limit is allowed. Without any limit the error furthest from zero is picked. Raises NothingRead.

    """
    if not errors_mm:
        raise NothingRead()
    found = [to_picometres(error) for error in errors_mm]
    index = min(range(len(found)), key=lambda place: _margin(errors_mm[place], limits))
    spread = max(found) - min(found)
    allowed = spread_allowed(limits, spread_limit_mm=spread_limit_mm)
    return Repeats(
        index=index,
        error_mm=from_picometres(found[index]),
        spread_mm=from_picometres(spread),
        allowed_mm=allowed,
        is_rejected=allowed is not None and spread > to_picometres(allowed),
    )


def _margin(error_mm: Decimal, limits: Limits) -> Decimal:
    if limits.lower is None and limits.upper is None:
        return -abs(error_mm)
    return limits.margin(error_mm)
