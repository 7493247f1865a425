"""Changes of standards, results as issued, findings and products as questions write them.

Lives here: reading these shapes. May not live here: the kind of question (reevaluation.py).
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from labsys.metrology.budget import combine
from labsys.metrology.components import Component, Distribution
from labsys.metrology.conformance import Spread
from labsys.metrology.coverage import FreedomRule
from labsys.metrology.limits import Limits
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.questions.limits import read_limits, read_rule
from labsys.metrology.reevaluation import (
    Change,
    ProductImpact,
    Severity,
    StoredResult,
    Use,
    product_impact,
    severity,
)
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.views import View

PLAIN = Rule(RuleKind.SIMPLE, View.CALIBRATION, min_ratio=None)


def read_change(fields: Fields) -> Change:
    """Read one change of a standard; raises QuestionUnreadable."""
    new_U = None if fields.raw("U", None) is None else fields.length("U")
    k, nu = fields.number("k", 2, above=0.0), fields.freedom("nu")
    has_good_day = fields.raw("last_good_on", None) is not None
    found = Change(
        source=fields.text("standard"),
        used_mm=fields.length("used"),
        new_mm=fields.length("new"),
        found_on=_day(fields, "found_on", date.max),
        last_good_on=_day(fields, "last_good_on", date.min) if has_good_day else None,
        u_mm=None if new_U is None else float(new_U) / k,
        nu=nu,
    )
    fields.finish()
    return found


def read_result(fields: Fields, probability: float, freedom_rule: FreedomRule) -> StoredResult:
    """Read one result as issued; raises QuestionUnreadable, BadComponent and what a budget raises."""
    components = tuple(_component(one) for one in fields.objects("components", []))
    if components:
        budget = combine(components, probability=probability, freedom_rule=freedom_rule)
        U_mm, spread = budget.U_mm, Spread.of(budget)
    else:
        U_mm, spread = _uncertainty(fields)
    found = StoredResult(
        name=fields.text("name"),
        value_mm=fields.length("value"),
        measured_on=_day(fields, "measured_on", date.max),
        uses=tuple(_use(one) for one in fields.objects("uses", [])),
        limits=read_limits(fields, "limits") if fields.has("limits") else Limits(None, None),
        rule=_rule(fields),
        U_mm=U_mm,
        spread=spread,
        components=components,
    )
    fields.finish()
    return found


def read_severity(fields: Fields) -> Severity:
    """Read an error found and say how severe it is; raises QuestionUnreadable, LimitMissing."""
    _, spread = _uncertainty(fields)
    found = severity(fields.length("error"), read_limits(fields, "limits"), spread)
    fields.finish()
    return found


def read_product(fields: Fields) -> ProductImpact:
    """Read a product and correct it; raises QuestionUnreadable, LimitMissing."""
    recorded, error = fields.length("recorded"), fields.length("gauge_error")
    found = product_impact(recorded, error, read_limits(fields, "limits"))
    fields.finish()
    return found


def _uncertainty(fields: Fields) -> tuple[float, Spread]:
    U = float(fields.length("U", Decimal(0)))
    return U, Spread(U / fields.number("k", 2, above=0.0), nu=fields.freedom("nu"))


def _rule(fields: Fields) -> Rule | None:
    given = read_rule(fields) if fields.has("rule") else PLAIN
    return given if fields.has("limits") else None


def _use(fields: Fields) -> Use:
    component = None if fields.raw("component", None) is None else fields.count("component")
    sensitivity, count = fields.decimal("sensitivity", -1), fields.count("count", 1, at_least=1)
    found = Use(fields.text("standard"), sensitivity, count, component)
    fields.finish()
    return found


def _component(fields: Fields) -> Component:
    optional: dict[str, Any] = {}
    if fields.raw("group", None) is not None:
        optional["group"] = fields.text("group")
    if fields.has("divisor"):
        optional["divisor"] = fields.number("divisor", above=0.0)
    found = Component(
        name=fields.text("name", fields.place),
        size=float(fields.length("size")),
        distribution=fields.one_of("distribution", Distribution, Distribution.NORMAL),
        sensitivity=fields.number("sensitivity", 1),
        nu=fields.freedom("nu"),
        **optional,
    )
    fields.finish()
    return found


def _day(fields: Fields, name: str, default: date) -> date:
    found = fields.raw(name, None)
    if found is None:
        return default
    try:
        return date.fromisoformat(found)
    except (TypeError, ValueError):
        raise refuse(fields.at(name), "a day such as 2026-03-15", found) from None
