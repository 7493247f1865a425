"""Interval questions about a group of items: interval test, least number of records, reliability models.

Lives here: reading and saying, one function for each method. May not live here: arithmetic.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from labsys.metrology.intervals import homogeneity
from labsys.metrology.intervals.binomial import FLAG_BELOW, least_n, least_n_exact
from labsys.metrology.intervals.checks import Checks, Renewal, from_records, grouped
from labsys.metrology.intervals.comparing import Row
from labsys.metrology.intervals.fitting import interval_at
from labsys.metrology.intervals.homogeneity import ItemBeside, compare_items
from labsys.metrology.intervals.models import ModelName
from labsys.metrology.intervals.profiling import parameter_limits
from labsys.metrology.intervals.records import DataCount, count, usable
from labsys.metrology.intervals.reliability import propose_by_model
from labsys.metrology.intervals.testing import (
    SOURCES,
    WINDOW,
    propose_by_test,
    propose_simple_exponential,
    within_window,
)
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.questions.interval_said import (
    proposed,
    read_aim,
    read_assigned,
    read_bounds,
    read_records,
    said_data,
    said_judgement,
)
from labsys.metrology.questions.numbers import maybe


def by_test(fields: Fields) -> Answer:
    """Answer with the interval test's decision and interval."""
    assigned, aim, bounds = read_assigned(fields), read_aim(fields), read_bounds(fields)
    data, longest = _counted(fields, assigned)
    fields.finish()
    return proposed(propose_by_test(data, assigned, aim=aim, bounds=bounds, longest_months=longest))


def by_simple_exponential(fields: Fields) -> Answer:
    """Answer with the closed formula's interval, without a test."""
    assigned, aim, bounds = read_assigned(fields), read_aim(fields), read_bounds(fields)
    data, longest = _counted(fields, assigned)
    fields.finish()
    return proposed(
        propose_simple_exponential(data, assigned, aim=aim, bounds=bounds, longest_months=longest)
    )


def least_records(fields: Fields) -> Answer:
    """Answer with the least number of records that show a reliability."""
    target, confidence = fields.probability("target", "0.95"), fields.probability("confidence", "0.95")
    out = fields.count("out", 0)
    fields.finish()
    exact = least_n_exact(target, confidence=confidence)
    values = {"least_n": least_n(target, confidence=confidence, out=out), "unrounded_without_failure": exact}
    return Answer(values, (Step("ln((1 − C)/2)/ln(R) without failures", exact),), SOURCES[:1])


def all_beside_group(fields: Fields) -> Answer:
    """Answer which items of a group differ from the rest of it."""
    threshold = fields.probability("threshold", str(FLAG_BELOW))
    found = compare_items(read_records(fields), threshold=threshold)
    fields.finish()
    values = {
        "items": [_item(one) for one in found.items],
        "flagged": [one.item for one in found.flagged],
        "most_by_chance": found.most_by_chance,
        "data": said_data(found.data),
        "needs": found.needs,
    }
    step = Step("P(X ≤ x) and P(X ≥ x) of each item at the rate of all others", values["flagged"])
    return Answer(values, (step,), homogeneity.SOURCES)


def by_model(fields: Fields) -> Answer:
    """Answer with the table of models, the one taken with its limits, and the proposal."""
    aim, bounds, assigned = read_aim(fields), read_bounds(fields), read_assigned(fields)
    names = fields.texts("models", [one.value for one in ModelName])
    models = [_model(name, fields.at("models")) for name in names]
    targets = fields.numbers("further_targets", [])
    checks, data = _checks(fields)
    fields.finish()
    found = propose_by_model(checks, assigned, aim=aim, bounds=bounds, models=models, data=data)
    if found.compared is None or checks is None:
        return proposed(found.proposal, {"models": {}})
    rows = {row.fit.name.value: _row(row, checks, targets) for row in found.compared.rows}
    further: dict[str, object] = {"models": rows, "not_fitted": found.compared.not_fitted}
    if found.limits is not None and found.compared.taken is not None:
        further["parameter_limits"] = parameter_limits(found.compared.taken.fit, found.limits)
    return proposed(found.proposal, further, (Step("models by AIC, least first", list(rows)),))


def _item(one: ItemBeside) -> Mapping[str, object]:
    return {
        "item": one.item,
        "n": one.n,
        "in_tolerance": one.in_tolerance,
        "others_reliability": one.others_reliability,
        **said_judgement(one.judged),
    }


def _row(row: Row, checks: Checks, targets: Sequence[float]) -> Mapping[str, object]:
    found, names = row.fit, row.fit.model.parameters
    estimates = zip(names, found.parameters, found.is_edge, strict=True)
    return {
        "formula": found.model.formula,
        "parameters": {name: None if is_edge else value for name, value, is_edge in estimates},
        "log_likelihood": found.log_likelihood,
        "aic": found.aic,
        "aic_above_least": row.aic_above_least,
        "months": row.months,
        "months_at": [interval_at(found, one, checks.longest) for one in targets],
        "deviance": row.goodness.deviance,
        "freedom": row.goodness.freedom,
        "p": row.goodness.p,
        "p_against_exponential": row.p_against_exponential,
        "is_adequate": row.goodness.is_adequate,
        "at_boundary": any(found.is_edge),
        "warnings": row.warnings,
    }


def _model(name: str, place: str) -> ModelName:
    if name not in list(ModelName):
        raise refuse(place, "one of " + ", ".join(ModelName), name)
    return ModelName(name)


def _checks(fields: Fields) -> tuple[Checks | None, DataCount]:
    """Read records under their renewal policy, or counts by age since a renewal at every calibration."""
    if fields.has("records"):
        records = read_records(fields)
        found = from_records(records, fields.one_of("renewal", Renewal, Renewal.ALWAYS))
        return found, count(*usable(records))
    ages = fields.numbers("ages_months")
    n = _counts(fields, "n")
    found = grouped(ages, n, _counts(fields, "in_tolerance"))
    return found, found.data


def _counts(fields: Fields, name: str) -> list[int]:
    counts = []
    for index, one in enumerate(fields.numbers(name)):
        if one < 0 or one != int(one):
            raise refuse(f"{fields.at(name)}[{index}]", "a whole number of 0 or more", one)
        counts.append(int(one))
    return counts


def _counted(fields: Fields, assigned: int) -> tuple[DataCount, float | None]:
    """Read records, counted within the window, or the two counts themselves."""
    if not fields.has("records"):
        data = DataCount(fields.count("records_n"), fields.count("in_tolerance"), {})
        return data, maybe(fields, "longest_months", above=0.0)
    records = read_records(fields)
    window = fields.numbers("window", list(WINDOW))
    if not (len(window) == 2 and 0 < window[0] <= window[1]):
        raise refuse(fields.at("window"), "two multiples of the interval, the smaller first", window)
    kept, _ = usable(records)
    longest = max((one.elapsed_months for one in kept), default=None)
    return within_window(records, assigned, (window[0], window[1])), longest
