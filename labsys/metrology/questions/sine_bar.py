"""``sine_bar``: the angle a sine bar stands at with its uncertainty, or the height of blocks for an angle.

Fields:
    length: distance of the rollers, a length (mm)
    height: of the blocks under one roller, a length (mm); leave it out to ask for it
    angle: the angle wanted, in degrees or written as 12°30′; in place of height
    U_height, U_length: expanded uncertainties of both, lengths (0)
    k: coverage factor of both and of the answer (2)

Answers:
    angle (°), degrees_minutes_seconds, arc_seconds, height (mm), u and U (″), per_um_height and per_um_length (″ for
    each µm), is_steep: whether it is steeper than the 60° a sine bar is used to
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from labsys.metrology.angle_readings import is_marked
from labsys.metrology.angles import parse_angle, sexagesimal
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.sine_bar import height_for, sine_bar

SOURCE = "sine bar, θ = asin(h/l): practice of the trade; JCGM 100:2008, 5.1.2"


def answer(fields: Fields) -> Answer:
    """Answer it; raises QuestionUnreadable, NoSineBar, AngleUnreadable."""
    length = float(fields.length("length"))
    height = height_for(_angle(fields), length) if fields.has("angle") else float(fields.length("height"))
    k = fields.number("k", 2, above=0.0)
    sizes = [float(fields.length(name, Decimal(0))) / k for name in ("U_height", "U_length")]
    fields.finish()
    found = sine_bar(height, length, u_height_mm=sizes[0], u_length_mm=sizes[1])
    seconds = Decimal(repr(found.angle * 3600))
    values = {
        "angle": found.angle,
        "degrees_minutes_seconds": str(sexagesimal(Fraction(seconds) / 3600, decimals=2)),
        "arc_seconds": found.angle * 3600,
        "height": height,
        "u": found.u_seconds,
        "U": found.u_seconds * k,
        "per_um_height": found.by_height,
        "per_um_length": found.by_length,
        "is_steep": found.is_steep,
    }
    steps = (
        Step("asin(height/length), in degrees", found.angle),
        Step("1/(l·cos θ), arc seconds for each µm of height", found.by_height),
        Step("−tan θ/l, arc seconds for each µm of length", found.by_length),
        Step("root of the sum of squares, times k", found.u_seconds * k),
    )
    return Answer(values, steps, (SOURCE,))


def _angle(fields: Fields) -> float:
    given = fields.raw("angle")
    if isinstance(given, str) and is_marked(given):
        return float(parse_angle(given))
    return fields.number("angle")
