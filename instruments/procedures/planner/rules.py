"""Which of a procedure's rules a set of points still breaks, planned or done.

Lives here: the bridge from a procedure and a gauge to the rules of coverage. May not live here: the rules themselves
(``labsys.metrology.plan``).
"""

from __future__ import annotations

from collections.abc import Sequence

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Content
from labsys.metrology.plan import CoverageRules, OpenRule, PlanPoint
from labsys.metrology.plan import open_rules as rules_left_open
from labsys.metrology.units import Unit


def open_rules(
    content: Content, model: GaugeModel, functions: tuple[str, ...], points: Sequence[PlanPoint]
) -> tuple[OpenRule, ...]:
    """List the rules that ``points`` don't meet for a gauge of ``model`` with ``functions``.

    One that only warns (``is_blocking`` false: lengths at one phase of the scale) holds nothing up.
    """
    return rules_left_open(coverage_of(content, model, functions), points)


def coverage_of(content: Content, model: GaugeModel, functions: tuple[str, ...]) -> CoverageRules:
    """Put the rules of a procedure together for one gauge: its range, its functions, its scale."""
    rules = content.points
    measured = rules.functions_of(functions, model.inside_jaws)
    return CoverageRules(
        range_low_mm=model.range_low_mm,
        range_high_mm=model.range_high_mm,
        least_points=rules.band_for(model.range_high_mm).least_points if "outside" in measured else 0,
        places=rules.places,
        low_share=rules.low_share,
        far_share=rules.far_share,
        windows={name: rules.windows[name] for name in measured if name != "outside"},
        period_mm=model.scale_period_mm,
        phase_is_rule=rules.phase == "rule",
        unit=Unit(model.unit),
    )
