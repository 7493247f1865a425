"""Which of a procedure's rules a set of points still breaks, planned or done.

Lives here: the bridge from a procedure and a gauge to the rules of coverage. May not live here: the rules themselves
(``labsys.metrology.plan``).
"""

from __future__ import annotations

from collections.abc import Sequence

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Content, PointRules
from instruments.procedures.planner.aims import Piece
from instruments.procedures.planner.series_rules import series_rules
from labsys.metrology.plan import CoverageRules, OpenRule, PlanPoint
from labsys.metrology.plan import open_rules as rules_left_open
from labsys.metrology.units import Unit


def open_rules(
    content: Content,
    model: GaugeModel,
    functions: tuple[str, ...],
    points: Sequence[PlanPoint],
    members: Sequence[Piece] = (),
) -> tuple[OpenRule, ...]:
    """List the rules that ``points`` don't meet for a gauge of ``model`` with ``functions`` and ``members``.

    One that only warns (``is_blocking`` false: lengths at one phase of the scale) holds nothing up.
    """
    rules = content.points
    over_faces = () if rules is None else rules_left_open(coverage_of(rules, model, functions), points)
    of_series = [
        rule
        for series in content.series_for(functions)
        for rule in series_rules(series, model, members, points)
    ]
    return (*over_faces, *of_series)


def coverage_of(rules: PointRules, model: GaugeModel, functions: tuple[str, ...]) -> CoverageRules:
    """Put the rules over range and faces together for one gauge: its range, its functions, its scale."""
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
