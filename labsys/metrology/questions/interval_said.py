"""What every kind of interval question reads and says alike: bounds, aim, records, the proposal.

Lives here: shared fields and values. May not live here: any method.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from labsys.metrology.intervals.assigning import Bounds
from labsys.metrology.intervals.binomial import ItemInGroup
from labsys.metrology.intervals.proposals import SOURCE, Proposal
from labsys.metrology.intervals.records import DataCount, LeftOut, Record
from labsys.metrology.intervals.testing import Aim
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, as_decimal, refuse


def read_bounds(fields: Fields) -> Bounds:
    """Read the bounds of the assignment."""
    usual = Bounds()
    return Bounds(
        minimum_months=fields.count("minimum_months", usual.minimum_months, at_least=1),
        maximum_months=fields.count("maximum_months", usual.maximum_months, at_least=1),
        least_factor=fields.number("least_factor", usual.least_factor),
        most_factor=fields.number("most_factor", usual.most_factor),
    )


def read_aim(fields: Fields) -> Aim:
    """Read the target and what belongs to it."""
    return Aim(
        target=fields.probability("target", "0.95"),
        confidence=fields.probability("confidence", "0.95"),
        start=fields.number("start_reliability", 1, above=0.0, at_most=1.0),
        shape=fields.number("shape", 1, above=0.0),
    )


def read_assigned(fields: Fields) -> int:
    """Read the assigned interval."""
    return fields.count("interval_months", at_least=1)


def read_outcomes(fields: Fields, name: str) -> list[bool]:
    """Read a list of outcomes: 1 or true in tolerance, 0 or false out."""
    found = []
    for index, one in enumerate(fields.items(name)):
        place = f"{fields.at(name)}[{index}]"
        value = one if isinstance(one, bool) else as_decimal(one, place)
        if value not in (0, 1):
            raise refuse(place, "1 (in tolerance) or 0 (out)", one)
        found.append(bool(value))
    return found


def read_records(fields: Fields) -> list[Record]:
    """Read the records of ``records``, in the order of time within each item."""
    return [_record(one, index) for index, one in enumerate(fields.objects("records"))]


def proposed(
    proposal: Proposal, further: Mapping[str, object] | None = None, steps: Sequence[Step] = ()
) -> Answer:
    """Answer with a proposal and its evidence, and what the method says beside it."""
    finding, outcome = proposal.finding, proposal.outcome
    values: dict[str, object] = {
        "method": finding.method,
        "assigned_months": proposal.assigned_months,
        "raw_months": finding.raw_months,
        "bounded_months": outcome.bounded_months,
        "proposed_months": outcome.months,
        "change": outcome.change,
        "takes_effect": proposal.takes_effect,
        "capped_by": outcome.caps,
        "needs": finding.needs,
        "notes": finding.notes,
        "data": said_data(finding.data),
        "estimate": _estimate(proposal),
        **finding.figures,
        **(further or {}),
    }
    rules = Step("step, range, longest observed time, then rounding to whole months", outcome.months)
    return Answer(values, (*steps, rules), (*finding.sources, SOURCE))


def said_data(data: DataCount) -> Mapping[str, object]:
    """Say what was counted and what was left out."""
    return {"used": data.used, "in_tolerance": data.in_tolerance, "left_out": data.left_out}


def said_judgement(found: ItemInGroup) -> Mapping[str, object]:
    """Say how an item stands beside its group."""
    return {
        "p_lower": found.p_lower,
        "p_upper": found.p_upper,
        "is_worse": found.is_worse,
        "is_better": found.is_better,
        "advice": found.advice,
    }


def _estimate(proposal: Proposal) -> Mapping[str, object] | None:
    found = proposal.finding.estimate
    if found is None:
        return None
    return {
        "of": found.quantity,
        "value": found.value,
        "low": found.low,
        "high": found.high,
        "confidence": found.confidence,
    }


def _record(fields: Fields, index: int) -> Record:
    record = Record(
        item=fields.text("item", f"record {index + 1}"),
        elapsed_months=fields.number("elapsed_months", at_least=0.0),
        in_tolerance=fields.flag("in_tolerance") if fields.has("in_tolerance") else None,
        was_renewed=fields.flag("was_renewed") if fields.has("was_renewed") else None,
        left_out=fields.one_of("left_out", LeftOut) if fields.has("left_out") else None,
    )
    fields.finish()
    return record
