"""The rule of weeks on a page: ``{% week_rule rule %}``."""

from __future__ import annotations

from typing import Any

from django import template

from labsys.pages.weeks import Rule

register = template.Library()


@register.inclusion_tag("labsys/elements/weeks.svg")
def week_rule(rule: Rule) -> dict[str, Any]:
    """Draw the rule of weeks; each week is a link to its list."""
    return {"rule": rule}
