"""The corridor: our one picture of a result, from plain data to coordinates. Pure geometry and words, no markup.

The markup is ``labsys/elements/corridor.svg``; the tag that joins the two is ``{% corridor %}``.
"""

from labsys.pages.corridor.data import BOXES, VERDICTS, Box, CorridorData, Earlier, UnknownBox, UnknownVerdict
from labsys.pages.corridor.drawing import CORRIDOR_PRINT_CSS, draw
from labsys.pages.corridor.parts import Corridor

__all__ = [
    "BOXES",
    "VERDICTS",
    "CORRIDOR_PRINT_CSS",
    "Box",
    "Corridor",
    "CorridorData",
    "Earlier",
    "UnknownBox",
    "UnknownVerdict",
    "draw",
]
