"""How a value is written: an error with its sign, a size of some form without, a fit in words.

Lives here: one value with its unit. May not live here: uncertainties (spreads.py).
"""

from __future__ import annotations

from decimal import Decimal

from instruments.measuring.evaluation import NON_NEGATIVE, Evaluated, Ground
from instruments.measuring.models import Result
from instruments.measuring.showing import corridors, words
from labsys.metrology.units import Unit, from_mm
from labsys.pages import figures


def value_text(item: Evaluated, ground: Ground) -> str:
    """Write what was found with its unit; an error with its sign, what can't be below nought without."""
    if item.kind == Result.Kind.ATTRIBUTE:
        return fit_words(item.error_mm)
    model = ground.model
    places = words.error_places(model, ground.content, corridors.code_of(item))
    value = from_mm(item.error_mm, Unit(model.unit), decimals=12)
    return figures.with_unit(written(value, item.kind, places), model.unit)


def fit_words(value: Decimal) -> str:
    """Say whether it fits."""
    return "fits" if value else "does not fit"


def written(value: Decimal, kind: str, places: int) -> str:
    """Write a value of a kind of result to so many places, signed where it may be below nought."""
    if kind in NON_NEGATIVE:
        return figures.plain(value, places=places)
    return figures.signed(value, places=places)
