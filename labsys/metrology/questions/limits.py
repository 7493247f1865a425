"""Limits, rules, uncertainties and wanted risks as questions write them; shared by the kinds about conformity.

Lives here: these shapes. May not live here: any kind of question.
"""

from __future__ import annotations

from decimal import Decimal

from labsys.metrology.limits import Limits
from labsys.metrology.questions.fields import Fields, refuse
from labsys.metrology.rules import Rule
from labsys.metrology.views import View


def read_limits(fields: Fields, name: str) -> Limits:
    """Read an object with ``lower`` and ``upper``, lengths or null; raises QuestionUnreadable, LimitsCrossed."""
    inner = fields.object(name)
    sides = ((side, inner.raw(side, None)) for side in ("lower", "upper"))
    found = Limits(*(None if one is None else inner.length(side) for side, one in sides))
    inner.finish()
    return found


def read_rule(fields: Fields) -> Rule:
    """Read ``rule`` in the form an agreement stores it; the view may be left out. Raises BadRule."""
    inner = fields.object("rule")
    names = ("kind", "view", "min_ratio", "g", "max_false_accept", "document")
    given = {name: inner.raw(name) for name in names if inner.has(name)}
    inner.finish()
    return Rule.from_json({"view": View.CALIBRATION.value, **given})


def read_uncertainty(fields: Fields, name: str, default: Decimal | None = None) -> Decimal:
    """Read an uncertainty, a length of zero or more; raises QuestionUnreadable."""
    found = fields.length(name) if default is None else fields.length(name, default)
    if found < 0:
        raise refuse(fields.at(name), "an uncertainty of zero or more", found)
    return found


def shown_limits(limits: Limits) -> dict[str, Decimal | None]:
    """Give limits as an answer holds them."""
    return {"lower": limits.lower, "upper": limits.upper}


def read_at_most(fields: Fields) -> float | None:
    """Read ``at_most``, the largest risk that is to hold; None where nothing is wanted."""
    return fields.probability("at_most") if fields.has("at_most") else None


def holds(risk: float, at_most: float | None) -> bool | None:
    """Say whether a risk is at most what was wanted, None where nothing was."""
    return None if at_most is None else risk <= at_most
