"""What the tablet needs to judge a reading at once, as whole picometres: one subtraction, a few comparisons.

The server's judgement replaces what the tablet shows; both compare the same integers, so they never differ.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.evaluation import Evaluated, Ground
from instruments.measuring.showing.words import decimals
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
    lies between accepted and out.
    """

    unit: str
    decimals: int
    reference: int
    limits: tuple[int | None, int | None]
    accepted: tuple[int | None, int | None]
    outer: tuple[int | None, int | None]
    between: str

    @property
    def attributes(self) -> Iterator[tuple[str, str]]:
        """Give what the page carries, as names and texts of data attributes."""
        yield "unit", self.unit
        yield "decimals", str(self.decimals)
        yield "reference", str(self.reference)
        for name in ("limits", "accepted", "outer"):
            lower, upper = getattr(self, name)
            yield f"{name}-lower", _text(lower)
            yield f"{name}-upper", _text(upper)
        yield "between", self.between


def of_point(prospect: Evaluated, ground: Ground) -> Integers:
    """Give the integers of a point from what it will be judged with."""
    return of_decision(
        prospect.decision,
        limits=prospect.limits,
        length_mm=prospect.length_mm,
        kind=ground.basis.decision_rule().kind,
        model=ground.model,
    )


def of_decision(
    decision: Decision, *, limits: Limits, length_mm: Decimal, kind: RuleKind, model: GaugeModel
) -> Integers:
    """Give the integers of a decision: its reference length, its limits, and what its rule says between them."""
    return Integers(
        unit=model.unit,
        decimals=decimals(model),
        reference=to_picometres(length_mm),
        limits=limits.in_picometres(),
        accepted=decision.acceptance.in_picometres(),
        outer=decision.outer.in_picometres(),
        between=BETWEEN.get(kind, Verdict.NOT_ACCEPTED.value),
    )


def of_closing(model: GaugeModel, ground: Ground, expected_mm: Decimal) -> Integers:
    """Give the integers of a closing zero: it holds within the allowed steps of what is expected."""
    reach = to_picometres(model.step_mm * ground.content.zero.allowed_steps)
    both = (-reach, reach)
    return Integers(
        unit=model.unit,
        decimals=decimals(model),
        reference=to_picometres(expected_mm),
        limits=both,
        accepted=both,
        outer=both,
        between=Verdict.NOT_ACCEPTED.value,
    )


def closing_limits(model: GaugeModel, ground: Ground) -> Limits:
    """Give the limits within which a closing zero holds, in mm."""
    reach = model.step_mm * ground.content.zero.allowed_steps
    return Limits(-reach, reach)


def _text(value: int | None) -> str:
    return "" if value is None else str(value)
