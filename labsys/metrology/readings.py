"""How typed or transmitted text becomes a reading.

Lives here: the parser of one reading and what it refuses. May not live here: whether a number is plausible
(plausibility.py).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from labsys.errors import LabError
from labsys.metrology.angle_readings import read_angle
from labsys.metrology.exact import NotANumber, exponent_of, plain
from labsys.metrology.units import Quantity, Unit, decimals_shown, to_mm

MOST_MM = Decimal("999999.999999999")
"""Largest length kept: six digits before the point and nine behind it (one picometre)."""

_LONGEST_TEXT = 64
_SHAPE = re.compile(
    r"(?P<number>(?:[+\-\u2212]\s*)?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+))\s*(?P<suffix>[^\s0-9.,+\-\u2212]*)"
)
_SUFFIXES = {
    "mm": Unit.MM,
    "in": Unit.IN,
    "inch": Unit.IN,
    '"': Unit.IN,
    "\u2033": Unit.IN,
    "um": Unit.UM,
    "\u00b5m": Unit.UM,
    "\u03bcm": Unit.UM,
    "uin": Unit.UIN,
    "\u00b5in": Unit.UIN,
    "\u03bcin": Unit.UIN,
}


class WrongUnit(LabError, ValueError):
    """The unit behind the number is not the one the gauge is read in."""

    code = "wrong-unit"
    field = "reading"
    sentence = (
        "Expected a reading in {expected}, found “{found}”. Switch the gauge to {expected}, or type the "
        "number alone."
    )


class MoreDigitsThanShown(LabError, ValueError):
    """The text has more decimals than the step of the gauge can show."""

    code = "more-digits-than-shown"
    field = "reading"
    sentence = (
        "Expected at most {expected} decimals, since the step is {step}{gap}{unit}, found {found}. "
        "Type only the digits the gauge shows."
    )


class LengthOutOfRange(LabError, ValueError):
    """The length is larger than can be kept."""

    code = "length-out-of-range"
    field = "reading"
    sentence = "Expected a length within ±{most} mm, found {found}. Look for a missing point or a wrong unit."


class FinerThanKept(LabError, ValueError):
    """The length has digits below one picometre, which can't be kept."""

    code = "finer-than-kept"
    field = "reading"
    sentence = (
        "Expected a length in whole picometres (9 decimals of a millimetre), found {found}. Leave the last "
        "digits out."
    )


@dataclass(frozen=True, slots=True)
class ParsedReading:
    """One reading: ``value`` as typed in ``unit``, and the same exactly in mm (arc seconds for an angle)."""

    value: Decimal
    unit: Unit
    value_mm: Decimal


def parse_reading(text: str, *, unit: Unit, step: Decimal | None) -> ParsedReading:
    """Read one typed or transmitted ``text`` as a length, or as an angle where ``unit`` is one of angle.

    Point or comma, a leading sign (+, - or −), and a unit behind the number are understood; exponents and
    thousands separators are not. ``unit`` is the one the gauge is read in, ``step`` its step in that unit
    (None: any number of decimals). Raises NotANumber, WrongUnit, MoreDigitsThanShown, LengthOutOfRange,
    FinerThanKept, and for an angle what ``read_angle`` raises.
    """
    if unit.quantity is Quantity.ANGLE:
        value, seconds = read_angle(text, unit=unit)
        _refuse_more_digits(value, unit, step)
        return ParsedReading(value=value, unit=unit, value_mm=seconds)
    match = _SHAPE.fullmatch(text.strip()) if len(text) <= _LONGEST_TEXT else None
    if match is None:
        raise NotANumber(found=_short(text))
    suffix = match["suffix"]
    if suffix and _SUFFIXES.get(suffix.casefold()) is not unit:
        raise WrongUnit(expected=unit.value, found=suffix)
    value = Decimal("".join(match["number"].split()).replace(",", ".").replace("\u2212", "-"))
    _refuse_more_digits(value, unit, step)
    return ParsedReading(value=value, unit=unit, value_mm=_kept(to_mm(value, unit)))


def _refuse_more_digits(value: Decimal, unit: Unit, step: Decimal | None) -> None:
    if step is None:
        return
    expected, found = decimals_shown(step), -exponent_of(value)
    if found > expected:
        raise MoreDigitsThanShown(
            expected=expected, step=f"{plain(step):f}", gap=unit.gap, unit=unit.value, found=found
        )


def _kept(value_mm: Decimal) -> Decimal:
    if abs(value_mm) > MOST_MM:
        raise LengthOutOfRange(most=MOST_MM, found=f"{value_mm:f} mm")
    if exponent_of(plain(value_mm)) < -9:
        raise FinerThanKept(found=f"{value_mm:f} mm")
    return value_mm


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST_TEXT else text[: _LONGEST_TEXT - 1] + "…"
