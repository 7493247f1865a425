"""Sketches of where to measure: jaws and anvils drawn from plain data, the place marked, the reference drawn in.

Pure geometry and words; the markup is ``labsys/elements/sketch.svg``. One module per family.
"""

from labsys.pages.sketches.caliper import FUNCTIONS, PLACES, CaliperPoint, UnknownSketch, draw
from labsys.pages.sketches.shapes import Shape, Sketch, Text

__all__ = ["FUNCTIONS", "PLACES", "CaliperPoint", "Shape", "Sketch", "Text", "UnknownSketch", "draw"]
