"""The shapes of the marks as SVG paths around a centre. Colour never stands alone: every verdict has its own shape.

*in tolerance* a disc; *not accepted* and *conditional inside* a half disc, flat towards the limit; *not decided* a
ring; *conditional outside* a hollow wedge, *out of tolerance* a solid one, both pointing outward;
no verdict a short bar.
"""

from __future__ import annotations

from dataclasses import dataclass

from labsys.pages.palette import PRINT

HALF_DISCS = frozenset({"not_accepted", "conditional_inside"})
WEDGES = frozenset({"conditional_outside", "out_of_tolerance"})
INKS = {
    "in_tolerance": "use_mark",
    "not_accepted": "limit_mark",
    "conditional_inside": "limit_mark",
    "not_decided": "limit_mark",
    "conditional_outside": "stop_mark",
    "out_of_tolerance": "stop_mark",
}
HOLLOW = frozenset({"not_decided", "conditional_outside"})


@dataclass(frozen=True)
class Mark:
    """One mark: its path, its class name, the pixel it stands at, and the width of its own stroke."""

    path: str
    kind: str
    x: float
    y: float
    radius: float
    stroke: float

    @property
    def ink(self) -> str:
        """Give the colour of the mark where no style sheet is read."""
        return PRINT[INKS.get(self.kind, "ink")]

    @property
    def fill(self) -> str:
        """Give the colour inside the mark where no style sheet is read."""
        return PRINT["sheet"] if self.kind in HOLLOW else self.ink

    @property
    def halo(self) -> float:
        """Give the width of the stroke that keeps the mark clear of what lies below."""
        return self.stroke + 4


def place(verdict: str | None, *, x: float, y: float, radius: float, outward: int) -> Mark:
    """Put the mark of a verdict at a point; ``outward`` is −1 where the nearer limit lies to the left, else +1."""
    stroke = {"not_decided": 3.0, "conditional_outside": 2.0}.get(verdict or "", 0.0)
    path = outline(verdict, x=x, y=y, radius=radius - stroke / 2, outward=outward)
    kind = verdict or "none"
    return Mark(path=path, kind=kind, x=x, y=y, radius=radius, stroke=stroke)


def outline(verdict: str | None, *, x: float, y: float, radius: float, outward: int) -> str:
    """Give the path of a verdict's shape, inside the circle's box around the centre."""
    if verdict is None:
        return f"M{x - 2:.2f} {y - radius:.2f}h4v{2 * radius:.2f}h-4z"
    if verdict in HALF_DISCS:
        sweep = 0 if outward > 0 else 1
        return f"M{x:.2f} {y - radius:.2f}A{radius:.2f} {radius:.2f} 0 0 {sweep} {x:.2f} {y + radius:.2f}z"
    if verdict in WEDGES:
        back, tip = x - outward * 0.8 * radius, x + outward * radius
        return f"M{tip:.2f} {y:.2f}L{back:.2f} {y - radius:.2f}V{y + radius:.2f}z"
    return (
        f"M{x - radius:.2f} {y:.2f}a{radius:.2f} {radius:.2f} 0 1 0 {2 * radius:.2f} 0"
        f"a{radius:.2f} {radius:.2f} 0 1 0 {-2 * radius:.2f} 0z"
    )
