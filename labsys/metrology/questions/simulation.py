"""``simulation``: a result by many trials of its model, its coverage interval, and first order held against it.

Fields:
    inputs, model, constant, correlations, read_together: as for the kind budget; nu of readings and of normal inputs
        makes Student's density with u as its scale, nu of limits puts the limits in doubt by half_width/√(2·nu);
        correlated inputs are normal, with infinite nu.
    unit: the unit of the result, a text that is only repeated (empty).
    seed: a whole number that settles every draw; the same seed gives the same answer.
    trials: how many; left out, they go on until digits have settled.
    digits: significant digits of u that count, 1 to 9 (2).
    tolerance_share: share of δ to settle to: 1, or 0.2 before a comparison, as clause 8.2 asks (1).
    most_trials: where trials that don't settle end, to 10 000 000 (10 000 000).
    interval: symmetric or shortest (symmetric).
    probability: of coverage, between 0 and 1 (0.9545).
    compare: whether first order is worked out too and held against it, true or false (true); with freedom_rule,
        shared_freedom, order as for the kind budget.

Answers:
    y, u, low, high, half_width: estimate, standard uncertainty, ends and half length of the interval, in the unit of
        the result; unit, probability, interval (as above).
    trials, blocks, block: how many were drawn, in blocks of at most so many.
    stability: null for a fixed number; otherwise digits, tolerance, batches, twice_s of y, u, low and high, is_stable,
        unsettled (those beyond the tolerance).
    comparison: null without; otherwise estimate, u, U, k, low, high of first order, d_low, d_high, tolerance (δ),
        is_validated, is_settled (more trials would not turn it), share ((half_width − U)/U), is_far_off (over 5 %).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.propagation import Order, Propagation, Settings, SharedFreedom, propagate
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.models import read_inputs
from labsys.metrology.simulation import (
    Comparison,
    FirstOrder,
    IntervalKind,
    MeasurementModel,
    Simulation,
    Stability,
    Wanted,
    compare,
    simulate,
    simulate_adaptively,
)
from labsys.metrology.simulation.terms import model_of_terms
from labsys.metrology.simulation.trials import MOST_TRIALS

if TYPE_CHECKING:
    import numpy as np


def answer(fields: Fields) -> Answer:
    """Simulate the model; raises QuestionUnreadable and what the simulation and ``propagate`` raise."""
    inputs, model, correlation = read_inputs(fields)
    wanted = Wanted(
        fields.probability("probability", DEFAULT_PROBABILITY),
        fields.one_of("interval", IntervalKind, IntervalKind.SYMMETRIC),
    )
    digits = fields.count("digits", 2, at_least=1)
    found = _simulated(fields, model_of_terms(model, inputs, correlation), wanted, digits)
    settings = _settings(fields, wanted)
    is_compared = fields.flag("compare", True)
    fields.finish()
    if not is_compared:
        return _answer(found, settings.unit, None, None)
    first = propagate(model, inputs, correlation=correlation, settings=settings)
    side = FirstOrder(first.estimate, first.u, first.U, wanted.probability)
    return _answer(found, settings.unit, first, compare(side, found, digits=digits))


def _simulated(fields: Fields, model: MeasurementModel, wanted: Wanted, digits: int) -> Simulation:
    rng = _generator(fields.count("seed"))
    share = fields.number("tolerance_share", 1, above=0.0, at_most=1.0)
    most = fields.count("most_trials", MOST_TRIALS)
    if fields.has("trials"):
        return simulate(model, rng=rng, trials=fields.count("trials"), wanted=wanted)
    return simulate_adaptively(
        model, rng=rng, digits=digits, wanted=wanted, tolerance_share=share, most_trials=most
    )


def _generator(seed: int) -> np.random.Generator:
    import numpy as np

    return np.random.default_rng(seed)


def _settings(fields: Fields, wanted: Wanted) -> Settings:
    return Settings(
        probability=wanted.probability,
        freedom_rule=fields.one_of("freedom_rule", FreedomRule, FreedomRule.TRUNCATE),
        shared_freedom=fields.one_of("shared_freedom", SharedFreedom, SharedFreedom.REFUSE),
        order=fields.one_of("order", Order, Order.AUTO),
        unit=fields.text("unit", ""),
    )


def _answer(found: Simulation, unit: str, first: Propagation | None, compared: Comparison | None) -> Answer:
    interval = found.interval
    values = {
        "y": found.y,
        "u": found.u,
        "low": interval.low,
        "high": interval.high,
        "half_width": interval.half_width,
        "unit": unit,
        "probability": interval.wanted.probability,
        "interval": interval.wanted.kind,
        **{name: getattr(found, name) for name in ("trials", "blocks", "block")},
        "stability": None if found.stability is None else _stability(found.stability),
        "comparison": None if first is None or compared is None else _comparison(first, compared),
    }
    steps = (
        Step(
            f"{found.trials} trials drawn and put through the model, in {found.blocks} blocks", found.trials
        ),
        Step("y and u(y): mean and standard deviation of the values (7.6)", [found.y, found.u]),
        Step(
            f"{interval.wanted.kind} interval from the ordered values (7.7)",
            [interval.low, interval.high],
        ),
    )
    clause_8 = (
        () if compared is None else ("JCGM 101:2008, 8 (comparison)", "JCGM 100:2008, 5.1.2 (first order)")
    )
    return Answer(values, steps, (found.source, "JCGM 101:2008, 6.4 (densities)", *clause_8))


def _stability(found: Stability) -> dict[str, object]:
    plain = ("digits", "tolerance", "batches", "is_stable", "unsettled")
    twice = {name: getattr(found, f"twice_s_{name}") for name in ("y", "u", "low", "high")}
    return {**{name: getattr(found, name) for name in plain}, "twice_s": twice}


def _comparison(first: Propagation, found: Comparison) -> dict[str, object]:
    sides = {"low": first.estimate - first.U, "high": first.estimate + first.U}
    plain = ("d_low", "d_high", "tolerance", "is_validated", "is_settled", "share", "is_far_off")
    return {
        **{name: getattr(first, name) for name in ("estimate", "u", "U", "k")},
        **sides,
        **{name: getattr(found, name) for name in plain},
    }
