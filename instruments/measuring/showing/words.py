"""Lengths, points and times as the bench says them, in the gauge's own unit and the laboratory's zone."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from instruments.inventory.models import GaugeModel
from instruments.measuring.models import Point
from instruments.procedures.content import FUNCTIONS, PLACES, Content, place_words
from instruments.procedures.content import lengths as ways
from instruments.procedures.content.series import DIRECTIONS
from instruments.procedures.scales import readable_step, scale_of, zero_scale
from labsys.laboratory.queries import zone
from labsys.metrology.units import Unit, decimals_shown, from_mm
from labsys.pages import figures


def length(length_mm: Decimal, unit: str) -> str:
    """Write a length or an angle in a unit without padding: 41.3 mm, 1.625 in, 45° 05′."""
    return figures.size(length_mm, unit)


def function(name: str) -> str:
    """Name a measuring function."""
    return FUNCTIONS.get(name, name.replace("_", " "))


def place(name: str) -> str:
    """Name a place as a sentence says it; empty for none."""
    own = {"middle": "at the middle", "tips": "at the tips"}
    return own.get(name, PLACES.get(name, place_words(name) if name else ""))


def point(found: Point, unit: str, content: Content) -> str:
    """Name a point: Outside 41.3 mm, near the beam; GO size 11.989 mm, entry, 90°; Flatness of the anvil."""
    series = content.series_of(found.function)
    measured = series is None or not isinstance(series.lengths, ways.NoLength)
    named = content.name_of(found.function) if series else function(found.function).capitalize()
    several = series is not None and isinstance(series.lengths, ways.EveryMember)
    parts = (
        f"{named} {length(found.nominal_mm, unit)}" if measured else named,
        found.member.label if found.member and several else "",
        place(found.place),
        DIRECTIONS.get(found.direction, ""),
    )
    return ", ".join(part for part in parts if part)


def clock(instant: datetime) -> str:
    """Give the time of day in the laboratory's zone: 07:43."""
    return f"{instant.astimezone(zone()):%H:%M}"


def step_text(model: GaugeModel, content: Content, code: str = "") -> str:
    """Give the smallest difference that can be read there, in the gauge's unit, as printed."""
    series = content.series_of(code)
    if series is None:
        return figures.plain(readable_step(model, content))
    if series.band_mm is not None:
        return f"{Decimal(1).scaleb(1 - _BAND_PLACES):f}"
    return figures.plain(from_mm(scale_of(code, model, content).step_mm, Unit(model.unit)))


_BAND_PLACES = 5
"""Decimals of what is counted in bands of light, in mm: a hundredth of a micrometre."""


def error_places(model: GaugeModel, content: Content, code: str = "") -> int:
    """Give the decimals of an error in the gauge's unit: as many as can be read there, and one more for U's sake."""
    series = content.series_of(code)
    if series is None:
        return decimals_shown(model.resolution) + 1
    if series.band_mm is not None:
        return _BAND_PLACES
    return decimals_shown(from_mm(scale_of(code, model, content).step_mm, Unit(model.unit))) + 1


def unit_read(model: GaugeModel, content: Content, code: str) -> str:
    """Give the unit that a reading is typed in there; empty for bands and for what fits or doesn't."""
    series = content.series_of(code)
    if series is not None and series.reads in ("bands", "attribute"):
        return ""
    return scale_of(code, model, content).unit.value


def unit_named(unit: str) -> str:
    """Say what is typed: millimetres by their sign, inches by their name, degrees and minutes by an example."""
    return {"in": "inches", "°": "degrees", "′": "degrees and minutes, as 45 05"}.get(unit, str(unit))


def decimals(model: GaugeModel, content: Content, code: str = "") -> int:
    """Count the decimals that a whole reading has at least; parts of a division may add to them."""
    series = content.series_of(code)
    return decimals_shown(model.resolution if series is None or series.on is None else series.on.step)


def zero_decimals(model: GaugeModel, content: Content) -> int:
    """Count the decimals that a whole reading of the zero has at least."""
    return decimals_shown(zero_scale(model, content).step)
