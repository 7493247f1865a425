"""``interval``: the next calibration interval by a method, with its evidence, or a figure that a method rests on.

Fields: ``method``: “staircase”, “simple_response”, “incremental_response”, “interval_test”, “simple_exponential”,
    “least_records”, “closed_formula”, “average_reliability”, “reliability_model”, “item_in_group”, “items_in_group” or
    “variables”.
Fields: ``interval_months``: the assigned interval, whole months (all that propose one; closed_formula: any number).
Fields: ``minimum_months`` (1), ``maximum_months`` (60), ``least_factor`` (0.5), ``most_factor`` (2, never more): bounds
    of the proposal, whole months and factors (all that propose one).
Fields: ``target`` (0.95), ``confidence`` (0.95), ``start_reliability`` (1), ``shape`` (1): reliability wanted at the
    end of the interval, confidence of the limits, reliability at time zero, Weibull shape of the closed formula.
Fields: ``errors``: staircase: objects with ``error``, and ``limit`` or ``lower`` and ``upper``, and ``U`` (0) where it
    counts; mm, or a text with its unit. ``inner_fraction`` (0.8), ``up`` (1.25), ``down`` (0.5).
Fields: ``outcomes``: responses: 1 in tolerance, 0 out, in the order of time. Simple: ``a``, and ``b`` or ``target``
    (then b at equilibrium). Incremental: ``delta`` (1), ``first_outcome`` (true) before the first.
Fields: ``records``: interval_test, simple_exponential, reliability_model, items_in_group: objects in the order of
    time with ``item``, ``elapsed_months`` (real, since the calibration before), ``in_tolerance`` (true or false, as
    found), ``was_renewed`` (true or false, may be left out), ``left_out`` (a reason not to count it, may be left out:
    “first-ever calibration”, “no as-found result”, “known damage”, “calibration withdrawn”, “standard later found
    wrong, result re-evaluated”, “other functions or ranges than usual”, “limits of then not recorded”). ``window``
    ([0.8, 1.2]) multiples of the interval that count (interval_test, simple_exponential).
Fields: ``records_n``, ``in_tolerance``: counts in place of records (interval_test, simple_exponential, item_in_group);
    ``longest_months`` ever observed, may be left out.
Fields: ``ages_months``, ``n``, ``in_tolerance``: lists in place of records (reliability_model, renewed always).
Fields: ``renewal``: reliability_model: “renew always” (default), “renew if failed” or “renew as needed”.
Fields: ``models``: reliability_model: “exponential”, “weibull”, “mixed_exponential”, “random_walk”, “restricted_walk”,
    “modified_gamma”, “mortality_drift”, “warranty”, “drift”, “lognormal”; all if left out. ``further_targets``: a list.
Fields: ``out`` (0): least_records: how many of them are out of tolerance.
Fields: ``observed``: closed_formula: the reliability seen. ``end_reliability``: average_reliability.
Fields: ``group_reliability``, ``threshold`` (0.01): item_in_group; the latter also items_in_group.
Fields: ``elapsed_months``, ``changes``, ``as_left``, ``limit`` or ``lower`` and ``upper``, ``u_start`` (0),
    ``u_required``, ``degree`` (1): variables: changes as found minus as left before, all in one unit.
Answers: a proposal: ``raw_months``, ``bounded_months``, ``proposed_months``, ``change`` (“lengthen”, “keep”,
    “shorten”), ``takes_effect``, ``capped_by``, ``needs``, ``notes``, ``data`` (``used``,
    ``in_tolerance``, ``left_out``), ``estimate`` (``of``, ``value``, ``low``, ``high``, ``confidence``) or null.
Answers: staircase: ``share_used``, ``factor``; responses: ``intervals``, and ``b_log``, ``b_linear``,
    ``linear_is_usable`` or ``deltas``; interval_test: ``p_two_sided``, ``decision``; variables: ``rate_per_month``,
    ``s``, ``months_within_limits``, ``months_within_uncertainty``, ``reliability_at_assigned``.
Answers: reliability_model: ``model``, ``reliability_at_assigned``, ``adequate_months``, ``spread``,
    ``parameter_limits`` (one parameter only), ``models`` by name: ``parameters`` (null at an edge), ``log_likelihood``,
    ``aic``, ``months``, ``months_at`` (further targets), ``deviance``, ``freedom``, ``p``, ``at_boundary`` …, and
    ``not_fitted``, the models whose search did not arrive.
Answers: least_records: ``least_n``, ``unrounded_without_failure``; closed_formula: ``months``; average_reliability:
    ``average_reliability``, ``hazard_over_period``; item_in_group: ``p_lower``, ``p_upper``, ``is_worse``,
    ``is_better``, ``advice``; items_in_group: these with ``item``, ``n``, ``in_tolerance``, ``others_reliability`` in
    ``items``, worst first, and ``flagged``, ``most_by_chance``, ``data``, ``needs``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Final

from labsys.metrology.questions import interval_group, interval_single
from labsys.metrology.questions.answers import Answer
from labsys.metrology.questions.fields import Fields


class Method(StrEnum):
    """The methods by the words they have in a file."""

    STAIRCASE = "staircase"
    SIMPLE_RESPONSE = "simple_response"
    INCREMENTAL_RESPONSE = "incremental_response"
    INTERVAL_TEST = "interval_test"
    SIMPLE_EXPONENTIAL = "simple_exponential"
    LEAST_RECORDS = "least_records"
    CLOSED_FORMULA = "closed_formula"
    AVERAGE = "average_reliability"
    RELIABILITY_MODEL = "reliability_model"
    ITEM_IN_GROUP = "item_in_group"
    ITEMS_IN_GROUP = "items_in_group"
    VARIABLES = "variables"


METHODS: Final[Mapping[Method, Callable[[Fields], Answer]]] = {
    Method.STAIRCASE: interval_single.by_staircase,
    Method.SIMPLE_RESPONSE: interval_single.by_simple_response,
    Method.INCREMENTAL_RESPONSE: interval_single.by_incremental_response,
    Method.INTERVAL_TEST: interval_group.by_test,
    Method.SIMPLE_EXPONENTIAL: interval_group.by_simple_exponential,
    Method.LEAST_RECORDS: interval_group.least_records,
    Method.CLOSED_FORMULA: interval_single.by_closed_formula,
    Method.AVERAGE: interval_single.averaged,
    Method.RELIABILITY_MODEL: interval_group.by_model,
    Method.ITEM_IN_GROUP: interval_single.beside_group,
    Method.ITEMS_IN_GROUP: interval_group.all_beside_group,
    Method.VARIABLES: interval_single.by_drift,
}


def answer(fields: Fields) -> Answer:
    """Answer by the method named; raises QuestionUnreadable and what the method's core raises."""
    return METHODS[fields.one_of("method", Method)](fields)
