"""Limits to start with for fixed gauges: plugs, rings, pins, bars, feelers, radius gauges, surface plates.

Lives here: which line of their tables holds. May not live here: limits in force; gauge blocks (blocks.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Any

from instruments.procedures.shipped.limits.records import (
    AsMade,
    NoStartingLimits,
    StartingLimits,
    at_most,
    between,
    both_ways,
)
from instruments.procedures.shipped.limits.tables import reaching, table, um

_MILLIONTH_MM = Decimal("0.0000254")
_FORM_SOURCE = "out of round and taper within the tolerance of size (common practice, no source)"
_OWN_SOURCE = "Tolerance and wear as entered with the gauge, half on either side of its size"


@dataclass(frozen=True, slots=True)
class _Tolerance:
    """The whole tolerance in mm, whether it lies on one side of the size alone, and where it comes from."""

    width_mm: Decimal
    one_sided: bool
    source: str


def of_plug(made: AsMade) -> StartingLimits:
    """Give limits to start with for GO and NO-GO plugs: of size with the wear of the GO, and of form.

    ``grade`` is an inch class (X, Y, Z …) or the grade of the workpiece (IT6 to IT12); otherwise ``tolerance_mm``.
    Raises NoStartingLimits.
    """
    return _go_and_no_go(made, _tolerance(made, "iso_plug", "a plain plug"), wears=-1)


def of_ring(made: AsMade) -> StartingLimits:
    """Give limits to start with for GO and NO-GO rings, as for plugs with the signs turned; raises NoStartingLimits."""
    return _go_and_no_go(made, _tolerance(made, "iso_ring", "a plain ring"), wears=1)


def of_thread_plug(made: AsMade) -> StartingLimits:
    """Give limits to start with of the pitch diameter from ``tolerance_mm`` and ``wear_mm``; raises NoStartingLimits.

    No table of thread tolerances ships.
    """
    if made.tolerance_mm is None:
        raise NoStartingLimits(what="a thread plug without the tolerance of its pitch diameter")
    found = _go_and_no_go(made, _Tolerance(made.tolerance_mm, False, _OWN_SOURCE), wears=-1)
    pitch = both_ways("pitch_diameter", _beyond(made.range_high_mm), made.tolerance_mm / 2)
    sizes = [row for row in found.rows if row["function"] != "roundness"]
    return StartingLimits((*sizes, pitch), found.source)


def of_pin(made: AsMade) -> StartingLimits:
    """Give limits to start with for pins of a class (0, 1, 2) or of ``tolerance_mm``; raises NoStartingLimits."""
    known = table("by-size")
    if made.tolerance_mm is not None:
        half, source = made.tolerance_mm / 2, _OWN_SOURCE
    elif made.grade in known["pins"]:
        half, source = um(known["pins"][made.grade]), known["pins_source"]
    else:
        raise NoStartingLimits(what=f"pins {made.words}")
    up_to = _beyond(made.range_high_mm)
    rows = (both_ways("size", up_to, half), *_form(up_to, 2 * half))
    return StartingLimits(rows, f"{source}; {_FORM_SOURCE}")


def of_setting_ring(made: AsMade) -> StartingLimits:
    """Give limits to start with for a setting ring by its diameter; raises NoStartingLimits."""
    known = table("tolerance-grades")
    line = reaching(known["rows"], made.range_high_mm)
    if line is None:
        raise NoStartingLimits(what=f"a setting ring {made.words}")
    up_to = _beyond(made.range_high_mm)
    rows = (both_ways("size", up_to, um(line["IT4"]) / 2), *_form(up_to, um(line["IT3"])))
    source = f"Size ±IT4/2: common practice, no source; form about IT2 to IT3: from memory. Grades: {known['source']}"
    return StartingLimits(rows, source)


def of_bar(made: AsMade) -> StartingLimits:
    """Give limits to start with for the steps of a checker bar; raises NoStartingLimits."""
    return _by_size(made, "bars", "size", "a checker bar")


def of_feeler(made: AsMade) -> StartingLimits:
    """Give limits to start with for feelers: thickness and its variation over a blade; raises NoStartingLimits."""
    found = _by_size(made, "feelers", "thickness", "feelers")
    varying = [at_most("variation", Decimal(row["up_to_mm"]), Decimal(row["upper_mm"])) for row in found.rows]
    source = (
        f"{found.source}; variation over a blade half the width of the limits (common practice, no source)"
    )
    return StartingLimits((*found.rows, *varying), source)


def of_radius_gauge(made: AsMade) -> StartingLimits:
    """Give limits to start with for the radii of radius gauges read on a projector; raises NoStartingLimits."""
    return _by_size(made, "radii", "radius", "radius gauges")


def of_plate(made: AsMade) -> StartingLimits:
    """Give the flatness to start with for a surface plate by its diagonal and grade.

    ``grade`` is 0 to 3 (ISO 8512) or AA, A, B (ASME B89.3.7). Raises NoStartingLimits.
    """
    known, diagonal = table("surface-plates"), made.range_high_mm
    if made.grade in known["iso"]:
        per_mm, constant = (Decimal(text) for text in known["iso"][made.grade])
        hundreds = (diagonal / 100).to_integral_value(ROUND_CEILING) * 100
        limit_um, source = per_mm * hundreds + constant, known["iso_source"]
    elif made.grade in known["asme"]:
        metres = diagonal / 1000
        limit_um = Decimal(known["asme"][made.grade]) * (1 + Decimal("1.6") * metres * metres)
        source = known["asme_source"]
    else:
        raise NoStartingLimits(what=f"a surface plate {made.words}")
    return StartingLimits((at_most("flatness", diagonal, um(f"{limit_um:.2f}")),), source)


def _tolerance(made: AsMade, iso: str, what: str) -> _Tolerance:
    known = table("plain-gauges")
    inches = made.range_high_mm / Decimal("25.4")
    line = reaching(known["rows"], inches, "to_in")
    if made.tolerance_mm is not None:
        return _Tolerance(made.tolerance_mm, False, _OWN_SOURCE)
    if made.grade in known[iso]:
        grades = table("tolerance-grades")
        row = reaching(grades["rows"], made.range_high_mm)
        if row is not None:
            return _Tolerance(um(row[known[iso][made.grade]]), False, known["iso_source"])
    elif line is not None and made.grade in line and inches > Decimal(known["rows"][0]["over_in"]):
        return _Tolerance(Decimal(line[made.grade]) * _MILLIONTH_MM, True, known["source"])
    raise NoStartingLimits(what=f"{what} {made.words}")


def _go_and_no_go(made: AsMade, tolerance: _Tolerance, *, wears: int) -> StartingLimits:
    """Limit GO and NO-GO; ``wears`` is the sign of the wear, and the tolerance of a class lies against it."""
    up_to, width = _beyond(made.range_high_mm), tolerance.width_mm
    near, far = (Decimal(0), width) if tolerance.one_sided else (-width / 2, width / 2)
    go = sorted((wears * (made.wear_mm - near), -wears * far))
    no_go = sorted((wears * near, wears * far))
    rows = (between("go", up_to, *go), between("no_go", up_to, *no_go), *_form(up_to, width))
    wear = "none" if made.wear_mm == 0 else f"{made.wear_mm.normalize():f} mm past its tolerance, as entered"
    return StartingLimits(rows, f"{tolerance.source}; wear of the GO {wear}; {_FORM_SOURCE}")


def _form(up_to_mm: Decimal, width_mm: Decimal) -> tuple[dict[str, Any], ...]:
    """Keep form within a width: out of round is half of the difference of two diameters, taper the whole of it."""
    return at_most("roundness", up_to_mm, width_mm / 2), at_most("taper", up_to_mm, width_mm)


def _by_size(made: AsMade, name: str, function: str, what: str) -> StartingLimits:
    known = table("by-size")
    last = reaching(known[name], made.range_high_mm)
    if last is None:
        raise NoStartingLimits(what=f"{what} {made.words}")
    lines = known[name][: known[name].index(last) + 1]
    rows = tuple(both_ways(function, Decimal(line["to_mm"]), um(line["size"])) for line in lines)
    return StartingLimits(rows, known[f"{name}_source"])


def _beyond(size_mm: Decimal) -> Decimal:
    """Give the next whole millimetre above a size, so that both ends of a gauge lie below it."""
    return size_mm.to_integral_value(ROUND_CEILING) + (1 if size_mm == int(size_mm) else 0)
