"""Points and pieces as the planner knows them.

Lives here: from rows to the planner's records. May not live here: rules, proposals (procedures.planner).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db.models import prefetch_related_objects

from instruments.inventory.models import Gauge
from instruments.measuring.models import Point, Session
from instruments.procedures.planner import Piece, open_rules
from instruments.procedures.queries import content_of
from labsys.metrology.plan import OpenRule, PlanPoint


def pieces_of(gauge: Gauge) -> tuple[Piece, ...]:
    """Give the members of a gauge that were not withdrawn and have a size; read once for a gauge."""
    prefetch_related_objects([gauge], "members")
    return tuple(
        Piece(row.pk, row.label, row.nominal_mm)
        for row in gauge.members.all()
        if row.withdrawn_on is None and row.nominal_mm is not None
    )


def rules_open(session: Session, points: Iterable[Point]) -> tuple[OpenRule, ...]:
    """List the rules of the session's procedure that these points leave open."""
    gauge, content = session.gauge, content_of(session.revision)
    pieces = pieces_of(gauge) if content.series else ()
    return open_rules(content, gauge.model, tuple(gauge.functions), _planned(points), pieces)


def _planned(points: Iterable[Point]) -> Sequence[PlanPoint]:
    return [
        PlanPoint(
            function=point.function,
            length_mm=point.nominal_mm,
            place=point.place,
            direction=point.direction,
            member=point.member_id,
        )
        for point in points
    ]
