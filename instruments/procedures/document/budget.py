"""The components of an uncertainty budget in words, and what each kind is asked for.

Lives here: names of kinds and their sizes for people. May not live here: what a kind computes
(``labsys.metrology.specs``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from instruments.procedures.document.parts import MILLION, Entry, measure, number
from labsys.metrology.specs import spec_from_json
from labsys.metrology.units import Quantity
from labsys.metrology.views import VIEW_WORDS, View


@dataclass(frozen=True, slots=True)
class Size:
    """A size a kind is asked for: its field, its label, the unit it is shown and typed in.

    ``words`` is how it reads in a document; ``times`` turns the stored value (mm, mm/mm, 1/K) into the one shown.
    """

    field: str
    label: str
    unit: str
    words: str = "±{}"
    optional: bool = False
    times: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of component for people: its words and its sizes, and whether a distribution is chosen for it."""

    words: str
    sizes: tuple[Size, ...] = ()
    distribution: bool = False


_EITHER = "Size (± half-width; a standard uncertainty where normal)"

KINDS: dict[str, Kind] = {
    "standard": Kind("U/k of the standard's certificate, or the limit of its grade"),
    "drift": Kind(
        "change of the standard since its calibration",
        (
            Size(
                "constant_mm_per_year",
                "In a year, the same at every length (±)",
                "mm",
                "±{} in a year at every length",
                optional=True,
            ),
            Size(
                "per_mm_per_year",
                "In a year, growing with the length (±)",
                "µm/m",
                "±{} in a year growing with it",
                optional=True,
                times=MILLION,
            ),
        ),
    ),
    "wringing": Kind(
        "joints between wrung blocks", (Size("half_width_mm", "Each joint (±)", "mm", "±{} each"),)
    ),
    "temperature_difference": Kind(
        "gauge and standard at different temperatures", (Size("half_width_k", "Difference (±)", "K"),)
    ),
    "expansion_difference": Kind(
        "gauge and standard of different expansion",
        (
            Size(
                "half_width_per_k",
                "Difference of the coefficients (±)",
                "10⁻⁶/K",
                "coefficients ±{}",
                times=MILLION,
            ),
            Size("temperature_half_width_k", "Temperature known to (±)", "K", "temperature known to ±{}"),
        ),
        distribution=True,
    ),
    "zero": Kind("half a step, or the closing zero where that is larger, where a zero was set"),
    "reading": Kind("the larger of half of what can be told apart and the repeatability"),
    "geometry": Kind("contact, parallelism, force of the jaws", (Size("half_width_mm", "Effect (±)", "mm"),)),
    "abbe": Kind(
        "point beside the scale, slider tilting",
        (
            Size("offset_mm", "Distance from the scale", "mm", "{} from the scale"),
            Size("tilt_half_width_rad", "Tilt (±)", "rad", "tilt ±{}"),
        ),
    ),
    "parallelism": Kind(
        "faces not parallel, ± half of the accepted spread",
        (Size("spread_mm", "Spread accepted from place to place", "mm", "spread {}"),),
    ),
    "alignment": Kind(
        "line of measurement askew, not corrected", (Size("half_width_rad", "Askew by (±)", "rad"),)
    ),
    "contact": Kind(
        "inside edges that don't meet, bore read along a chord",
        (Size("apart_mm", "Edges apart by up to (±)", "mm"),),
    ),
    "constant": Kind("the same at every length", (Size("size_mm", _EITHER, "mm"),), distribution=True),
    "proportional": Kind(
        "growing with the length", (Size("size_per_mm", _EITHER, "µm/m", times=MILLION),), distribution=True
    ),
}


def component_entry(stored: Mapping[str, Any], index: int, quantity: Quantity) -> Entry:
    """Write one component: what it is, its sizes with units, which uncertainties it enters, where it comes from."""
    kind = KINDS[stored["kind"]]
    sizes = "; ".join(_size(stored, size, quantity) for size in kind.sizes if size.field in stored)
    words = kind.words[0].upper() + kind.words[1:]
    shape = (f"{stored['distribution']} distribution",) if "distribution" in stored else ()
    freedom = (f"{stored['nu']} degrees of freedom",) if "nu" in stored else ()
    return Entry(
        key=f"budget/{stored['name']}",
        label=stored["name"],
        lines=(f"{words}: {sizes}" if sizes else words,),
        notes=tuple(filter(None, (*shape, *freedom, _views(stored), stored.get("source", "")))),
        index=index,
    )


def _size(stored: Mapping[str, Any], size: Size, quantity: Quantity) -> str:
    if size.unit == "mm":
        return size.words.format(measure(Decimal(str(stored[size.field])), quantity))
    return size.words.format(number(Decimal(str(stored[size.field])) * size.times, size.unit))


def _views(stored: Mapping[str, Any]) -> str:
    entered = spec_from_json(stored).enters
    if entered == frozenset(View):
        return "enters both uncertainties"
    return "enters only the " + " and the ".join(VIEW_WORDS[view] for view in View if view in entered)
