"""Sketches of where to measure: gauges drawn from plain data, the place marked, the reference drawn in.

Pure geometry and words; the markup is ``labsys/elements/sketch.svg``. One module per family or closely related pair.
"""

from __future__ import annotations

from collections.abc import Callable

from labsys.pages.sketches import (
    angles,
    blocks,
    bores,
    cylinders,
    depths,
    faces,
    heights,
    indicators,
    leaves,
    micrometers,
    plates,
    threads,
)
from labsys.pages.sketches.caliper import FUNCTIONS, PLACES, CaliperPoint, UnknownSketch, draw
from labsys.pages.sketches.gauge import GaugePoint
from labsys.pages.sketches.shapes import Shape, Sketch, Text

DRAWINGS: dict[str, Callable[[GaugePoint], Sketch]] = {
    "micrometer": micrometers.outside,
    "micrometer-parallelism": faces.parallelism,
    "micrometer-flatness": faces.flatness,
    "depth-gauge": depths.depth_gauge,
    "depth-micrometer": depths.depth_micrometer,
    "inside-micrometer": bores.inside_micrometer,
    "height-gauge": heights.height_gauge,
    "indicator": indicators.indicator,
    "lever-indicator": indicators.lever_indicator,
    "bore-gauge": bores.bore_gauge,
    "plug": cylinders.plug,
    "ring": cylinders.ring,
    "block": blocks.block,
    "check-bar": blocks.check_bar,
    "thread-wires": threads.thread_wires,
    "surface-plate": plates.surface_plate,
    "feeler": leaves.feeler,
    "protractor": angles.protractor,
    "radius-gauge": leaves.radius_gauge,
}
"""Every drawing besides the caliper's, by the name that procedures give it."""


def draw_gauge(point: GaugePoint) -> Sketch:
    """Draw one point's sketch by the name of its drawing.

    Raises UnknownSketch for a drawing that doesn't exist; a place that a drawing doesn't know is only named in words.
    """
    if point.drawing not in DRAWINGS:
        known = ", ".join(("caliper", *DRAWINGS))
        raise UnknownSketch(what="drawing", found=point.drawing, known=known)
    return DRAWINGS[point.drawing](point)


__all__ = [
    "DRAWINGS", "FUNCTIONS", "PLACES", "CaliperPoint", "GaugePoint", "Shape", "Sketch", "Text", "UnknownSketch",
    "draw", "draw_gauge",
]  # fmt: skip
