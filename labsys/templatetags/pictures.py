"""Pictures on pages: ``{% corridor data box="row" %}``, ``{% standing "use" %}``, ``{% verdict "in_tolerance" %}``."""

from __future__ import annotations

from typing import Any

from django import template

from labsys.pages import corridor as corridors
from labsys.pages import sketches, verdicts
from labsys.pages import standing as standings
from labsys.pages.palette import PRINT

register = template.Library()


@register.inclusion_tag("labsys/elements/corridor.svg")
def corridor(data: corridors.CorridorData, box: str = "row") -> dict[str, Any]:
    """Draw the corridor of one result into the box ``bench``, ``row`` or ``list``."""
    return {"c": corridors.draw(data, box_name=box), "p": PRINT}


@register.inclusion_tag("labsys/elements/state.html")
def standing(value: str, large: bool = False) -> dict[str, Any]:
    """Show a gauge's standing as field, shape and word."""
    mark = standings.mark(value)
    return {"field": mark.field, "shape": mark.shape, "word": mark.word, "large": large}


@register.inclusion_tag("labsys/elements/state.html")
def verdict(value: str | None, large: bool = False) -> dict[str, Any]:
    """Show a verdict as field, shape and word."""
    mark = verdicts.mark(value)
    return {"field": mark.field, "shape": mark.shape, "ring": mark.stroke, "word": mark.word, "large": large}


@register.inclusion_tag("labsys/elements/sketch.svg")
def sketch(
    function: str = "",
    place: str | None = None,
    opening: float = 0.4,
    drawing: str = "caliper",
    **words: Any,
) -> dict[str, Any]:
    """Draw where on the gauge to measure and with what; ``opening`` is the share of the range.

    ``reference`` (the caliper's only: block, pin or ring), ``reference_text`` and ``direction`` (the others' only:
    up or down) may be given too. Raises UnknownSketch for a drawing that doesn't exist.
    """
    reference, direction = words.pop("reference", "block"), words.pop("direction", "")
    words |= {"function": function, "opening": opening}
    if drawing == "caliper":
        drawn = sketches.draw(sketches.CaliperPoint(place=place, reference=reference, **words))
    else:
        point = sketches.GaugePoint(drawing=drawing, place=place or "", direction=direction or "", **words)
        drawn = sketches.draw_gauge(point)
    return {"s": drawn, "ink": PRINT["ink"]}
