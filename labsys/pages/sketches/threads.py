"""The thread plug over three wires: flanks, wires and contacts in their true proportions."""

from __future__ import annotations

from labsys.pages.sketches import parts, rounds
from labsys.pages.sketches.gauge import GaugePoint, Picture, finish, label
from labsys.pages.sketches.shapes import Shape, Sketch, Spot, circle, line, polygon, rectangle

# A 60° thread of pitch P, in pixels: sharp height 0.866 P, crest P/8 and root P/4 cut flat; a best wire of 0.577 P
# touches at the pitch line, with its centre 0.144 P outside of it (from memory, computed from the angle).
P, TURNS = 34.0, 8
CREST, ROOT = 0.325 * P, 0.2165 * P
WIRE, OUT = 0.2887 * P, 0.1443 * P
LEFT, Y = 36.0, 142.0
END = LEFT + (TURNS + 0.5) * P
FRONT = (426.0, 120.0)

_HOW = "Two wires below, one above between them; the contacts are flat and square to the axis. The smallest counts."
_ZERO = "The contacts are closed on the reference, without wires."


def thread_wires(point: GaugePoint) -> Sketch:
    """Draw a thread plug between flat contacts, over three wires."""
    pitch = 46 + 26 * point.share
    is_known = rounds.knows(point)
    groove = {"entry": 1, "tip": 1, "far": TURNS - 2, "root": TURNS - 2}.get(point.where.name, 4)
    x = LEFT + (groove + 0.5) * P
    high, low = Y - pitch - OUT - WIRE, Y + pitch + OUT + WIRE
    shapes = [*_thread(pitch)]
    if is_known:
        shapes += [
            Shape("slide", rectangle(x - 30, high - 28, x + 30, high)),
            Shape("slide", rectangle(x - 36, low, x + 36, low + 28)),
            Shape("reference", circle(x, high + WIRE, WIRE)),
            *(Shape("reference", circle(x + side * P / 2, low - WIRE, WIRE)) for side in (-1, 1)),
            *parts.pinch(x, high, low, 34),
        ]
    shapes += [Shape("body", circle(*FRONT, 46)), Shape("line", circle(*FRONT, 38)), parts.cross(FRONT, 46)]
    if is_known:
        shapes += parts.across(FRONT, 46, rounds.angle_of(point))
    texts = (
        *label(FRONT[0], FRONT[1] + 88, point.where.words, "middle"),
        *label(x, 292, point.reference_text, "middle"),
    )
    how = f"{_ZERO if point.is_zero else _HOW} {rounds.ANGLES}"
    return finish(point, Picture("Thread plug over three wires", how, tuple(shapes), texts, is_known))


def _thread(pitch: float) -> tuple[Shape, ...]:
    # The thread climbs half a pitch in half a turn, so the lower side is shifted by that.
    upper = _profile(0.0)
    lower = _profile(P / 2)
    outline = [(x, Y - pitch - height) for x, height in upper]
    outline += [(x, Y + pitch + height) for x, height in reversed(lower)]
    return (
        Shape("body", rectangle(END, Y - 0.62 * pitch, END + 22, Y + 0.62 * pitch)),
        Shape("body", polygon(outline)),
        Shape("line", "".join(line((LEFT, y), (END, y)) for y in (Y - pitch, Y + pitch))),
    )


def _profile(shift: float) -> list[Spot]:
    """Give one side's outline as distances along the axis and outside of the pitch line."""
    half_crest, half_root = P / 16, P / 8
    points: list[Spot] = []
    for turn in range(-1, TURNS + 2):
        crest, root = LEFT + shift + turn * P, LEFT + shift + (turn + 0.5) * P
        points += [(crest - half_crest, CREST), (crest + half_crest, CREST)]
        points += [(root - half_root, -ROOT), (root + half_root, -ROOT)]
    inside = [(x, height) for x, height in points if LEFT < x < END]
    return [(LEFT, -ROOT), (LEFT, inside[0][1]), *inside, (END, inside[-1][1]), (END, -ROOT)]
