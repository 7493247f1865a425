"""Where a value lies in the box: one straight scale, and beyond a break a second, tighter one. Always in order.

The band takes the middle 60 % of the width and shrinks until everything fits, not below 24 %; what still does not fit
goes beyond a break, so that nothing is ever clipped.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labsys.pages.corridor.data import Box

WIDEST = 0.60
NARROWEST = 0.24
# Distance of a break from the middle, as a share of the width.
BREAK_AT = 0.34
FEWEST_TICKS, MOST_TICKS = 8, 14


@dataclass(frozen=True)
class Break:
    """A gap in the scale: the pixel it lies at, the value at which it starts, the farthest value beyond it."""

    x: float
    value: float
    farthest: float


@dataclass(frozen=True)
class Scale:
    """A strictly ordered map from values to pixels; ``share`` is the part of the width that the band takes."""

    box: Box
    middle: float
    per_value: float
    share: float
    low: Break | None
    high: Break | None

    def x(self, value: float) -> float:
        """Give the pixel of a value to a hundredth, never outside the box's margins."""
        return round(self._exact(value), 2)

    def _exact(self, value: float) -> float:
        if self.high and value > self.high.value:
            start, end = self.high.x + self._gap, self.box.width - self.box.margin
            return start + (end - start) * _part(value, self.high)
        if self.low and value < self.low.value:
            start, end = self.low.x - self._gap, self.box.margin
            return start + (end - start) * _part(value, self.low)
        straight = self.box.width / 2 + (value - self.middle) * self.per_value
        return min(max(straight, self.box.margin), self.box.width - self.box.margin)

    @property
    def straight(self) -> tuple[float, float]:
        """Give the first and last value of the straight part of the scale."""
        reach = (self.box.width / 2 - self.box.margin) / self.per_value
        low = self.low.value if self.low else self.middle - reach
        high = self.high.value if self.high else self.middle + reach
        return low, high

    def is_straight(self, value: float) -> bool:
        """Tell whether a value lies on the straight part of the scale."""
        low, high = self.straight
        return low <= value <= high

    @property
    def _gap(self) -> float:
        return self.box.radius + 3.0


def _part(value: float, gap: Break) -> float:
    beyond = gap.farthest - gap.value
    return min(1.0, (value - gap.value) / beyond) if beyond else 1.0


def fit(box: Box, band: tuple[float, float], values: Sequence[float]) -> Scale:
    """Make the scale for a band between two values (lower below upper) on which all the values can be shown."""
    lower, upper = band
    middle, half = (lower + upper) / 2, (upper - lower) / 2
    room = box.width / 2 - box.margin
    reach = max((abs(value - middle) for value in values), default=0.0) / half
    wanted = 2 * room / (reach * box.width) if reach else WIDEST
    share = min(WIDEST, max(NARROWEST, wanted))
    per_value = share * box.width / 2 / half
    low = high = None
    if wanted < NARROWEST:
        edge = (BREAK_AT * box.width - box.radius - 3.0) / per_value
        fits = room / per_value
        if max(values) - middle > fits:
            high = Break(x=(0.5 + BREAK_AT) * box.width, value=middle + edge, farthest=max(values))
        if middle - min(values) > fits:
            low = Break(x=(0.5 - BREAK_AT) * box.width, value=middle - edge, farthest=min(values))
    return Scale(box=box, middle=middle, per_value=per_value, share=share, low=low, high=high)


def tick_step(span: float) -> float:
    """Give the coarsest step of 1, 2 or 5 times a power of ten that cuts the span into at least eight."""
    step = span / FEWEST_TICKS
    power = 10.0 ** math.floor(math.log10(step))
    factor = max((f for f in (1, 2, 5) if f * power <= step * (1 + 1e-9)), default=1)
    return factor * power


def ticks(scale: Scale) -> tuple[tuple[float, bool], ...]:
    """Give the ticks of the ruler as pixel and "is a long one", 8 to 14 of them, every fifth of the scale long.

    A step of 1-2-5 cannot always land between 8 and 14; then the outermost ticks are left off evenly.
    """
    low, high = scale.straight
    step = tick_step(high - low)
    first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
    numbers = list(range(first, last + 1))
    numbers.sort(key=lambda n: abs(n * step - scale.middle))
    kept = sorted(numbers[:MOST_TICKS])
    return tuple((scale.x(n * step), n % 5 == 0) for n in kept)
