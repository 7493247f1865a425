"""Slips of reading a protractor: questions to a person, never refusals.

Lives here: whole degrees, minutes for degrees, the complement and the supplement. May not live here: slips of lengths
and the raster of a step (plausibility.py). Rules of thumb: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

NEAR_SECONDS = Decimal(1800)
"""A reading within half a degree of its reference is not asked about."""

_DEGREE = Decimal(3600)
_CLOSE = Decimal(600)
"""So near, in arc seconds, must a slip lead to what is expected: ten minutes, with the gauge's own error in it."""


def slips(seconds: Decimal, expected: Decimal) -> Iterator[tuple[str, str]]:
    """Name the slips that would lead from the angle ``expected`` to the one read (both in arc seconds).

    Gives codes and sentences: 60 times too small or large; 90° − x or 180° − x in the place of x; whole degrees off,
    where it is none of those.
    """
    if abs(seconds - expected) <= NEAR_SECONDS:
        return
    found = [*_sixtyfold(seconds, expected), *_other_side(seconds, expected)]
    yield from found or _whole_degrees(seconds - expected)


def _sixtyfold(seconds: Decimal, expected: Decimal) -> Iterator[tuple[str, str]]:
    if seconds and abs(seconds * 60 - expected) <= _CLOSE:
        yield "factor-of-60", "This is 60 times too small. Were degrees read as minutes?"
    elif seconds and abs(seconds - expected * 60) <= _CLOSE * 60:
        yield "factor-of-60", "This is 60 times too large. Were minutes read as degrees?"


def _other_side(seconds: Decimal, expected: Decimal) -> Iterator[tuple[str, str]]:
    for code, whole, word in (("complement", 90, "complement"), ("supplement", 180, "supplement")):
        if abs(whole * _DEGREE - expected - seconds) <= _CLOSE:
            yield (
                code,
                f"This is the {word}: what is missing to {whole}°. Was the scale read from the right side?",
            )


def _whole_degrees(difference: Decimal) -> Iterator[tuple[str, str]]:
    count = abs(round(difference / _DEGREE))
    if count and abs(abs(difference) - count * _DEGREE) <= _CLOSE:
        what = "a whole degree" if count == 1 else f"{count} whole degrees"
        yield (
            "whole-degrees",
            f"This is {what} off what is expected. Was the main scale read at the right line?",
        )
