"""Standards on a shelf, made without a database: block sets of published compositions, rings, bars."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import count

from instruments.inventory.models import GaugeModel
from labsys.laboratory.models import Tag
from labsys.metrology.units import Unit, to_mm
from standards.register.models import Calibration, Element, ElementValue, Standard
from standards.register.queries import Available

D = Decimal
_ids = count(1)


def series(first: str, step: str, pieces: int, unit: Unit = Unit.MM) -> list[Decimal]:
    """Give ``pieces`` sizes from ``first`` in steps, in mm."""
    return [to_mm(D(first) + D(step) * index, unit) for index in range(pieces)]


# Compositions of sets: the 112-piece metric one as a national laboratory tabulates it, the others from memory.
M112 = [
    D("1.0005"),
    *series("1.001", "0.001", 9),
    *series("1.01", "0.01", 49),
    *series("0.5", "0.5", 49),
    *series("25", "25", 4),
]
LONG = [*series("125", "25", 4), *series("250", "50", 2), *series("400", "100", 2)]
IN81 = [
    *series("0.1001", "0.0001", 9, Unit.IN),
    *series("0.101", "0.001", 49, Unit.IN),
    *series("0.05", "0.05", 19, Unit.IN),
    *series("1", "1", 4, Unit.IN),
]


def shelf_of(
    sizes: list[Decimal],
    *,
    tag: str = "B-001",
    functions: tuple[str, ...] = ("outside",),
    U_mm: str = "0.0002",
    stackable: bool = True,
) -> list[Available]:
    """Put elements of one standard on the shelf, all calibrated with one U (k = 2)."""
    standard = Standard(pk=next(_ids), tag=Tag(text=tag), name=tag, serial=tag)
    calibration = Calibration(pk=next(_ids), standard=standard, calibrated_on=date(2026, 1, 7))
    found = []
    for size in sizes:
        element = Element(
            pk=next(_ids),
            standard=standard,
            label=f"{size.normalize():f}",
            nominal_mm=size,
            functions=list(functions),
            stackable=stackable,
        )
        value = ElementValue(
            pk=next(_ids), calibration=calibration, element=element, deviation_mm=D(0), U_mm=D(U_mm), k=D(2)
        )
        found.append(Available(element, value, calibration, standard))
    return found


def caliper_model(
    high: str = "150",
    *,
    unit: str = "mm",
    functions: tuple[str, ...] = ("outside", "inside", "depth", "step"),
    jaws: str = "knife-edges",
    period: str | None = None,
) -> GaugeModel:
    """Make a caliper's model; ``high`` is the end of its range in its unit."""
    return GaugeModel(
        maker="Invented",
        designation=f"C{high}{unit}",
        indication="digital",
        unit=unit,
        resolution=D("0.01") if unit == "mm" else D("0.0005"),
        range_low_mm=D(0),
        range_high_mm=to_mm(D(high), Unit(unit)),
        scale_period_mm=None if period is None else D(period),
        functions=list(functions),
        inside_jaws=jaws,
        expansion_per_k=D("0.0000115"),
    )


def whole_shelf(unit: str = "mm") -> dict[str, list[Available]]:
    """Give what a well-equipped laboratory has: block sets, a 25 mm and a 5 mm ring (1 in and 0.2 in)."""
    inch = unit == "in"
    blocks = shelf_of([*(IN81 if inch else M112)], tag="B-001")
    long = shelf_of([*LONG, *(series("5", "1", 8, Unit.IN) if inch else [])], tag="B-002", U_mm="0.0006")
    rings = [to_mm(D(1), Unit.IN), to_mm(D("0.2"), Unit.IN)] if inch else [D(25), D(5)]
    big, small = (shelf_of([size], tag=f"R-{size}", U_mm="0.001", stackable=False) for size in rings)
    return {
        "outside": [*blocks, *long],
        "inside": big,
        "small_bore": small,
        "depth": blocks,
        "step": blocks,
    }
