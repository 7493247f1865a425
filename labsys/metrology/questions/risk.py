"""``risk``: how probable a wrong acceptance or a wrong rejection is, and the guard that holds a wanted risk.

Lengths may be any quantity, where all of one question are numbers in one unit.

Fields:
    ask: item (one that was measured), rejection (from where on an item is refused), population (items yet to be
        measured), ratio (a test uncertainty ratio and a reliability alone) or family (a history of as-found errors)
    limits: of the true value, an object with lower and upper, lengths or null for none on that side (not for ratio)
    u: standard uncertainty of the measurement, a length (item, rejection, population)
    nu: degrees of freedom of u, or “infinite” (item, rejection; infinite)
    prior: an object with the population's mean (0) and u, its standard deviation, lengths (population; item, none)
    acceptance: of the measured value, as limits (item, population; the limits), or for ratio a number in limits (1)
    at_most: a consumer's risk that is to hold; of a refused item, a producer's (none; not for rejection)
    value: item: the measured value, a length
    wanted: item: a false-accept probability to find the guard for; population: a global consumer's risk to find it for
        (none); rejection: the largest probability that a refused item conforms, at most 0.5
    u_share: rejection: u as a share of the measured value, in place of u
    guard: population: how far acceptance lies inward from the limits, a length, in place of acceptance; ratio: a
        multiple of U, managed or root_sum, in place of acceptance
    ratio, reliability: ratio: width of the limits over 2U; share in tolerance
    means: ratio: whether that share is of items that are in tolerance (true) or were found so (observed)
    k: ratio and family: coverage factor of U (2)
    worst: ratio: over_reliability or over_ratio, to find the largest consumer's risk, the other one being left out
    errors: family: one as-found error of each calibration, lengths
    rule, U: family: the rule as in a decision, the expanded uncertainty under it, a length

Answers:
    item: is_accepted, whose (consumer or producer), risk, conformance, nonconformance, value and u (a prior taken
        in), guard (where wanted; null where none holds it), holds (null without at_most)
    rejection: reject with lower and upper, beyond which an item is refused
    population: consumer, producer, conforming, accepted, false_among_accepted, acceptance, guard (where known), holds
    ratio: as population, acceptance in limits and guard in multiples of U; with worst: consumer, ratio, reliability,
        acceptance, guard (with a ratio), holds
    family: as population, and prior, count, needed, needs (what is missing, empty where nothing is), found_outside,
        expected_outside, consumer_narrow and consumer_wide (at both ends of the 95 % interval of the spread)
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from enum import StrEnum

from labsys.metrology.acceptance import EmptyAcceptanceZone, shifted_inward
from labsys.metrology.conformance import Spread, guard_for_risk
from labsys.metrology.limits import Limits
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.limits import holds, read_at_most, read_limits, read_uncertainty, shown_limits
from labsys.metrology.questions.risk_models import answer_family, answer_ratio, shown_risks
from labsys.metrology.risk import Prior, global_risks, guard_for_global_risk, rejection_limits, specific_risk


class Ask(StrEnum):
    """What a risk is of."""

    ITEM = "item"
    REJECTION = "rejection"
    POPULATION = "population"
    RATIO = "ratio"
    FAMILY = "family"


def answer(fields: Fields) -> Answer:
    """Answer one of the five; raises QuestionUnreadable and what the arithmetic of risks raises."""
    return _ASKED[fields.one_of("ask", Ask)](fields)


def _item(fields: Fields) -> Answer:
    limits, value = read_limits(fields, "limits"), fields.length("value")
    zone = read_limits(fields, "acceptance") if fields.has("acceptance") else limits
    spread = Spread(float(read_uncertainty(fields, "u")), nu=fields.freedom("nu"))
    prior = _prior(fields) if fields.has("prior") else None
    wanted = fields.probability("wanted") if fields.has("wanted") else None
    at_most = read_at_most(fields)
    fields.finish()
    found = specific_risk(value, limits, zone, spread, prior=prior)
    guard = None if wanted is None else guard_for_risk(limits, spread, max_false_accept=wanted)
    values = {
        "is_accepted": found.is_accepted,
        "whose": found.whose,
        "risk": found.risk,
        "conformance": found.conformance,
        "nonconformance": found.nonconformance,
        "value": found.value_mm if prior is None else float(found.value_mm),
        "u": found.u_mm,
        "guard": guard,
        "holds": holds(found.risk, at_most),
    }
    steps = (
        Step("item after measuring, a prior weighted in", {"value": values["value"], "u": found.u_mm}),
        Step("p_c = Φ((T_U − y)/u) − Φ((T_L − y)/u)", found.conformance),
    )
    return Answer(values, steps, ("JCGM 106:2012, 7.2 to 7.4, 8.3 and 9.3", "ILAC-G8:09/2019, table 1"))


def _rejection(fields: Fields) -> Answer:
    limits, nu, wanted = read_limits(fields, "limits"), fields.freedom("nu"), fields.probability("wanted")
    is_relative = fields.has("u_share")
    u = fields.number("u_share") if is_relative else float(read_uncertainty(fields, "u"))
    fields.finish()
    found = rejection_limits(limits, u, conforming=wanted, nu=nu, is_relative=is_relative)
    step = Step(
        "limits moved outward by z·u of the value there, z for the wanted probability", shown_limits(found)
    )
    return Answer({"reject": shown_limits(found)}, (step,), ("JCGM 106:2012, 8.3.3 (guarded rejection)",))


def _population(fields: Fields) -> Answer:
    limits, prior, u = read_limits(fields, "limits"), _prior(fields), float(read_uncertainty(fields, "u"))
    guard: Decimal | None = None
    if fields.has("wanted"):
        found = guard_for_global_risk(limits, prior, u, consumer=fields.probability("wanted"))
        guard, risks = found.guard_mm, found.risks
    else:
        guard = fields.length("guard") if fields.has("guard") else None
        risks = global_risks(limits, _zone(fields, limits, guard), prior, u)
    at_most = read_at_most(fields)
    fields.finish()
    values = {**shown_risks(risks), "acceptance": shown_limits(risks.acceptance), "guard": guard}
    steps = (
        Step("consumer: true value beyond T and measured value within A, integrated", risks.consumer),
        Step("producer: true value within T and measured value beyond A, integrated", risks.producer),
    )
    return Answer({**values, "holds": holds(risks.consumer, at_most)}, steps, ("JCGM 106:2012, 9.5",))


def _zone(fields: Fields, limits: Limits, guard: Decimal | None) -> Limits:
    if guard is None:
        return read_limits(fields, "acceptance") if fields.has("acceptance") else limits
    zone = shifted_inward(limits, guard)
    if zone is None:
        raise EmptyAcceptanceZone.between(limits, float(guard))
    return zone


def _prior(fields: Fields) -> Prior:
    inner = fields.object("prior")
    found = Prior(float(inner.length("mean", 0)), float(inner.length("u")))
    inner.finish()
    return found


_ASKED: Mapping[Ask, Callable[[Fields], Answer]] = {
    Ask.ITEM: _item,
    Ask.REJECTION: _rejection,
    Ask.POPULATION: _population,
    Ask.RATIO: answer_ratio,
    Ask.FAMILY: answer_family,
}
