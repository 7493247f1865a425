"""Interval questions about one item: staircase, responses, closed formulas, the item beside its group, its drift.

Lives here: reading and saying, one function for each method. May not live here: arithmetic.
"""

from __future__ import annotations

from labsys.metrology.intervals import closed
from labsys.metrology.intervals.binomial import FLAG_BELOW, item_in_group
from labsys.metrology.intervals.responses import (
    SIMPLE_SOURCES,
    Response,
    equilibrium,
    incremental_response,
    propose_response,
    simple_response,
)
from labsys.metrology.intervals.staircase import FoundError, Stairs, share_used, staircase
from labsys.metrology.intervals.variables import ValueAim, propose_by_drift
from labsys.metrology.limits import Limits
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.interval_said import (
    proposed,
    read_assigned,
    read_bounds,
    read_outcomes,
    said_judgement,
)
from labsys.metrology.questions.numbers import maybe


def by_staircase(fields: Fields) -> Answer:
    """Answer with the share of the limit used and the next interval."""
    errors = [_found_error(one) for one in fields.objects("errors")]
    stairs = Stairs(
        fields.decimal("inner_fraction", "0.8"), fields.decimal("up", "1.25"), fields.decimal("down", "0.5")
    )
    proposal = staircase(errors, read_assigned(fields), stairs=stairs, bounds=read_bounds(fields))
    fields.finish()
    steps = [Step("share of the permitted error used at each point", [share_used(one) for one in errors])]
    return proposed(proposal, steps=steps)


def by_simple_response(fields: Fields) -> Answer:
    """Answer with the intervals after every outcome, and with b at equilibrium where a target is named."""
    a, outcomes = fields.number("a", above=0.0), read_outcomes(fields, "outcomes")
    further: dict[str, object] = {"a": a}
    balanced: float | None = None
    if fields.has("target"):
        found = equilibrium(fields.probability("target"), a)
        balanced = found.b_log
        linear = {"b_linear": found.b_linear, "linear_is_usable": found.is_linear_usable}
        further = {**further, "b_log": found.b_log, **linear}
    if not outcomes and not fields.has("interval_months"):
        fields.finish()
        return Answer(further, sources=SIMPLE_SOURCES)
    given = fields.has("b") or balanced is None
    b = fields.number("b", above=0.0, below=1.0) if given else balanced
    assert b is not None  # given, or at equilibrium
    assigned, bounds = read_assigned(fields), read_bounds(fields)
    fields.finish()
    intervals = simple_response(assigned, outcomes, a=a, b=b)
    proposal = propose_response(Response.SIMPLE, assigned, outcomes, intervals[-1], bounds)
    return proposed(proposal, {**further, "b": b, "intervals": intervals})


def by_incremental_response(fields: Fields) -> Answer:
    """Answer with step and interval after every outcome."""
    assigned, bounds = read_assigned(fields), read_bounds(fields)
    outcomes = read_outcomes(fields, "outcomes")
    found = incremental_response(
        assigned,
        outcomes,
        target=fields.probability("target", "0.95"),
        first=fields.flag("first_outcome", True),
        delta=fields.number("delta", 1, above=0.0, at_most=1.0),
    )
    fields.finish()
    intervals = [float(assigned), *(one.months for one in found)]
    proposal = propose_response(Response.INCREMENTAL, assigned, outcomes, intervals[-1], bounds)
    return proposed(proposal, {"deltas": [one.delta for one in found], "intervals": intervals})


def by_closed_formula(fields: Fields) -> Answer:
    """Answer with the interval of the closed formula for one observed reliability."""
    months = closed.interval_for(
        fields.probability("target", "0.95"),
        months=fields.number("interval_months", above=0.0),
        observed=fields.probability("observed"),
        start=fields.number("start_reliability", 1, above=0.0, at_most=1.0),
        shape=fields.number("shape", 1, above=0.0),
    )
    fields.finish()
    return Answer({"months": months}, (Step("I·(ln(R*/R0)/ln(R/R0))^(1/β), months", months),), closed.SOURCES)


def averaged(fields: Fields) -> Answer:
    """Answer with the reliability averaged over a period."""
    end = fields.probability("end_reliability")
    found = closed.average_over_period(end)
    fields.finish()
    return Answer(
        {"average_reliability": found, "hazard_over_period": closed.hazard_over_period(end)},
        (Step("(1 − R)/(−ln R), exponential", found),),
        ("NCSLI RP-1 (from memory): average over the period",),
    )


def beside_group(fields: Fields) -> Answer:
    """Answer whether an item differs from its group."""
    found = item_in_group(
        fields.count("records_n", at_least=1),
        fields.count("in_tolerance"),
        fields.probability("group_reliability"),
        threshold=fields.probability("threshold", str(FLAG_BELOW)),
    )
    fields.finish()
    return Answer(
        said_judgement(found),
        (Step("P(X ≤ x) and P(X ≥ x) at the group's reliability", [found.p_lower, found.p_upper]),),
        ("exact binomial tails; threshold: common practice, no source",),
    )


def by_drift(fields: Fields) -> Answer:
    """Answer with the time until the drift's prediction meets the limits or the uncertainty."""
    limit = maybe(fields, "limit", above=0.0)
    lower, upper = maybe(fields, "lower"), maybe(fields, "upper")
    aim = ValueAim(
        as_left=fields.number("as_left"),
        lower=-limit if limit is not None and lower is None else lower,
        upper=limit if upper is None else upper,
        target=fields.probability("target", "0.95"),
        u_start=fields.number("u_start", 0, at_least=0.0),
        u_required=maybe(fields, "u_required", above=0.0),
    )
    proposal = propose_by_drift(
        (fields.numbers("elapsed_months"), fields.numbers("changes")),
        read_assigned(fields),
        aim=aim,
        bounds=read_bounds(fields),
        degree=fields.count("degree", 1, at_least=1),
    )
    fields.finish()
    return proposed(proposal)


def _found_error(fields: Fields) -> FoundError:
    if fields.has("limit"):
        limit = fields.length("limit")
        limits = Limits(-limit, limit)
    else:
        limits = Limits(
            fields.length("lower") if fields.has("lower") else None,
            fields.length("upper") if fields.has("upper") else None,
        )
    found = FoundError(fields.length("error"), limits, fields.length("U", 0))
    fields.finish()
    return found
