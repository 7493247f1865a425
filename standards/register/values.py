"""Values of elements as they are entered, and the refusals that keep nonsense out.

Lives here: the shape of a value before it is a row, and what can be wrong with it. Nothing here writes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

from labsys.errors import LabError
from labsys.metrology.units import Quantity
from standards.register.models import Element, ElementValue, Standard

LARGEST_DEVIATION_MM = Decimal("0.5")
"""Beyond this a deviation is taken for a slip of the unit, µm entered as mm (common practice, no source)."""
LARGEST_DEVIATION_SECONDS = Decimal(360)
"""The same for an angle: six minutes, arc minutes entered as degrees (common practice, no source)."""
FINEST_MM = Decimal("1e-9")
LARGEST_K = Decimal(20)


class ValueRefused(LabError, ValueError):
    """A value of one element can't stand; ``data["label"]`` names the element."""

    code: ClassVar[str] = "value-refused"


class NoValues(LabError, ValueError):
    """A calibration that gives no element a value."""

    code: ClassVar[str] = "no-values"
    sentence: ClassVar[str] = (
        "The calibration of {tag} gives no element a value. Enter deviation, U and k of at least one element."
    )


class ElementOfAnotherStandard(ValueRefused):
    """The element belongs to another standard."""

    code: ClassVar[str] = "element-of-another-standard"
    sentence: ClassVar[str] = "{label} is no element of {tag}. Add it to {tag} first, or correct the label."
    field: ClassVar[str | None] = "label"


class ElementTwice(ValueRefused):
    """One calibration gives an element one value."""

    code: ClassVar[str] = "element-twice"
    sentence: ClassVar[str] = "The element {label} has two values. Keep the one that the certificate states."
    field: ClassVar[str | None] = "label"


class UncertaintyMissing(ValueRefused):
    """A calibrated value without U and k, or a grade limit without the limit."""

    code: ClassVar[str] = "uncertainty-missing"
    sentence: ClassVar[str] = (
        "The value of {label} needs {needs} above zero. Without it the value can't be used; "
        "enter what the certificate states."
    )
    field: ClassVar[str | None] = "uncertainty"


class DeviationImplausible(ValueRefused):
    """A deviation or U so large that the unit must be wrong."""

    code: ClassVar[str] = "deviation-implausible"
    sentence: ClassVar[str] = (
        "{what} of {label} is {found} {unit}; expected at most {most} {unit}. Is the unit {smaller}, not {larger}?"
    )
    field: ClassVar[str | None] = "deviation"


class ValueTooFine(ValueRefused):
    """More digits than the record keeps."""

    code: ClassVar[str] = "value-too-fine"
    sentence: ClassVar[str] = (
        "{what} of {label} is {found} {unit}; the record keeps nine decimals{which}. Round it and say so."
    )
    field: ClassVar[str | None] = "deviation"


@dataclass(frozen=True)
class ValueData:
    """What a calibration says of an element, in mm: deviation with U and k, or the limit of its grade.

    ``degrees_of_freedom`` None: infinite, or not stated. ``basis`` “grade-limit” needs ``limit_mm`` instead of U and k.
    """

    element: Element
    deviation_mm: Decimal
    U_mm: Decimal | None = None
    k: Decimal | None = None
    degrees_of_freedom: int | None = None
    basis: str = "calibrated"
    limit_mm: Decimal | None = None


def check(standard: Standard, values: tuple[ValueData, ...]) -> None:
    """Refuse values that can't stand: the first one found is named, with its element."""
    # A thermometer's corrections are no lengths: its certificate on file holds them.
    if not values and standard.kind != Standard.Kind.THERMOMETER:
        raise NoValues(tag=str(standard.tag), subject=f"standard:{standard.pk}")
    seen: set[int] = set()
    for value in values:
        for refusal in problems(standard, value, seen):
            raise refusal
        seen.add(value.element.pk)


def problems(standard: Standard, value: ValueData, seen: set[int]) -> Iterator[ValueRefused]:
    """Find everything that is wrong with one value, given the elements seen before it."""
    label = value.element.label
    if value.element.standard_id != standard.pk:
        yield ElementOfAnotherStandard(label=label, tag=str(standard.tag))
    if value.element.pk in seen:
        yield ElementTwice(label=label)
    if value.basis == ElementValue.Basis.GRADE_LIMIT:
        if not _above_zero(value.limit_mm):
            yield UncertaintyMissing(label=label, needs="the grade's limit")
    elif not (_above_zero(value.U_mm) and _above_zero(value.k) and (value.k or 0) <= LARGEST_K):
        yield UncertaintyMissing(label=label, needs="U and a coverage factor k (at most 20), both")
    yield from _size_problems(value, label, standard.quantity)


def _size_problems(value: ValueData, label: str, quantity: Quantity) -> Iterator[ValueRefused]:
    is_angle = quantity is Quantity.ANGLE
    most = LARGEST_DEVIATION_SECONDS if is_angle else LARGEST_DEVIATION_MM
    smaller, larger = ("″", "′ or °") if is_angle else ("µm", "mm")
    which = "" if is_angle else " (one picometre)"
    sizes = {"The deviation": value.deviation_mm, "U": value.U_mm, "The grade limit": value.limit_mm}
    for what, size in sizes.items():
        if size is None:
            continue
        if not size.is_finite() or abs(size) > most:
            said = {"unit": quantity.base, "smaller": smaller, "larger": larger}
            yield DeviationImplausible(what=what, label=label, found=f"{size}", most=f"{most}", **said)
        elif size % FINEST_MM:
            yield ValueTooFine(what=what, label=label, found=f"{size}", unit=quantity.base, which=which)


def _above_zero(number: Decimal | None) -> bool:
    return number is not None and number > 0
