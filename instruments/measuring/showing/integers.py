"""What the tablet needs to judge a reading at once, as whole picometres: one subtraction, a few comparisons.

The server's judgement replaces what the tablet shows; both compare the same integers, so they never differ.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from instruments.measuring.evaluation import Evaluated, Ground
from instruments.measuring.showing import words
from instruments.procedures.scales import zero_scale
from labsys.metrology.decision import Decision
from labsys.metrology.error import to_picometres
from labsys.metrology.limits import Limits
from labsys.metrology.rules import RuleKind
from labsys.metrology.verdicts import Verdict

# What a rule says between its acceptance limits and those of out of tolerance; the four-way rule asks the limits.
BETWEEN = {RuleKind.PROVE: Verdict.NOT_DECIDED.value, RuleKind.FOUR_WAY: "conditional"}


@dataclass(frozen=True)
class Integers:
    """Reference length and limits of a target in whole picometres (1e-9 mm); None where there is no limit.

    ``unit`` is the one the reading is typed in, ``decimals`` how many a whole reading has at least, ``between`` what
    lies between accepted and out, ``shown`` the unit that errors are written in.
    """

    unit: str
    decimals: int
    reference: int
    limits: tuple[int | None, int | None]
    accepted: tuple[int | None, int | None]
    outer: tuple[int | None, int | None]
    between: str
    shown: str = "mm"

    @property
    def attributes(self) -> Iterator[tuple[str, str]]:
        """Give what the page carries, as names and texts of data attributes."""
        yield "unit", self.unit
        yield "shown", self.shown
        yield "decimals", str(self.decimals)
        yield "reference", str(self.reference)
        for name in ("limits", "accepted", "outer"):
            lower, upper = getattr(self, name)
            yield f"{name}-lower", _text(lower)
            yield f"{name}-upper", _text(upper)
        yield "between", self.between


def of_point(prospect: Evaluated, ground: Ground) -> Integers | None:
    """Give the integers of a point from what it will be judged with; None where the tablet can't judge it.

    Bands and fits are no lengths, one reading of a round is no difference, and a point without limits of its own has
    nothing to be judged by.
    """
    code = "" if prospect.point is None else prospect.point.function
    unit = words.unit_read(ground.model, ground.content, code)
    if prospect.decision is None or prospect.in_rounds or not unit:
        return None
    return of_decision(
        prospect.decision,
        limits=prospect.limits,
        held_mm=prospect.held_mm,
        kind=ground.decision_rule.kind,
        read_in=(unit, words.decimals(ground.model, ground.content, code)),
        shown=ground.model.unit,
    )


def of_decision(
    decision: Decision,
    *,
    limits: Limits,
    held_mm: Decimal,
    kind: RuleKind,
    read_in: tuple[str, int],
    shown: str = "mm",
) -> Integers:
    """Give the integers of a decision: what a reading is held against, its limits, what its rule says between them.

    ``read_in`` is the unit typed in with the decimals of a whole reading.
    """
    return Integers(
        unit=read_in[0],
        decimals=read_in[1],
        reference=to_picometres(held_mm),
        limits=limits.in_picometres(),
        accepted=decision.acceptance.in_picometres(),
        outer=decision.outer.in_picometres(),
        between=BETWEEN.get(kind, Verdict.NOT_ACCEPTED.value),
        shown=shown,
    )


def of_closing(ground: Ground, expected_mm: Decimal) -> Integers:
    """Give the integers of a closing zero: it holds within the allowed steps of what is expected."""
    both = closing_limits(ground).in_picometres()
    return Integers(
        unit=zero_scale(ground.model, ground.content).unit.value,
        decimals=words.zero_decimals(ground.model, ground.content),
        reference=to_picometres(expected_mm),
        limits=both,
        accepted=both,
        outer=both,
        between=Verdict.NOT_ACCEPTED.value,
        shown=ground.model.unit,
    )


def closing_limits(ground: Ground) -> Limits:
    """Give the limits within which a closing zero holds, in mm."""
    reach = zero_scale(ground.model, ground.content).step_mm * ground.content.zero.allowed_steps
    return Limits(-reach, reach)


def _text(value: int | None) -> str:
    return "" if value is None else str(value)
