"""Plane angles in degrees, minutes, seconds and radians, exact wherever π doesn't come in.

Lives here: units of angle, their conversion, how an angle is typed and written. May not live here: lengths (units.py).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, localcontext
from enum import StrEnum
from fractions import Fraction

from labsys.errors import LabError
from labsys.metrology.exact import EXACT, NotANumber, finite, plain

PI = Decimal("3.14159265358979323846264338327950288419716939937510582097494459")
"""π with sixty decimals, far beyond any reading."""

_LONGEST_TEXT = 64
_NUMBER = r"[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+"
_PARTS = re.compile(
    rf"""(?P<sign>[+\-\u2212]?)\s*
    (?:(?P<degrees>{_NUMBER})\s*(?:°|deg\b|º)\s*)?
    (?:(?P<minutes>{_NUMBER})\s*(?:'(?!')|\u2032(?!\u2032)|arcmin\b|min\b)\s*)?
    (?:(?P<seconds>{_NUMBER})\s*(?:"|''|\u2033|\u2032\u2032|arcsec\b|sec\b)\s*)?""",
    re.VERBOSE | re.IGNORECASE,
)


class AngleUnreadable(LabError, ValueError):
    """A text that is no angle, or one with more minutes or seconds than there are."""

    code = "angle-unreadable"
    field = "reading"
    sentence = "Expected {expected}, found “{found}”. Type the angle as in 12°30′15″ or 12.5°."


class AngleUnit(StrEnum):
    """A unit of angle: degree, minute and second of arc, radian and its parts."""

    DEGREE = "°"
    MINUTE = "′"
    SECOND = "″"
    RADIAN = "rad"
    MILLIRADIAN = "mrad"
    MICRORADIAN = "µrad"

    @property
    def is_of_radians(self) -> bool:
        """Say whether it is a radian or a part of one."""
        return self in (AngleUnit.RADIAN, AngleUnit.MILLIRADIAN, AngleUnit.MICRORADIAN)

    @property
    def factor(self) -> Fraction:
        """Degrees in one of this unit, or radians where it is of radians; exact (ISO 80000-3)."""
        return _FACTORS[self]


_FACTORS = {
    AngleUnit.DEGREE: Fraction(1),
    AngleUnit.MINUTE: Fraction(1, 60),
    AngleUnit.SECOND: Fraction(1, 3600),
    AngleUnit.RADIAN: Fraction(1),
    AngleUnit.MILLIRADIAN: Fraction(1, 1000),
    AngleUnit.MICRORADIAN: Fraction(1, 1_000_000),
}


@dataclass(frozen=True, slots=True)
class Sexagesimal:
    """An angle as it is written: whole degrees and minutes, the rest in seconds, the sign for all of it."""

    is_negative: bool
    degrees: int
    minutes: int
    seconds: Decimal

    def __str__(self) -> str:
        """Write it as −0°30′15.5″, with as many decimals as the seconds have."""
        sign = "−" if self.is_negative else ""
        return f"{sign}{self.degrees}°{self.minutes:02d}′{self.seconds:f}″"


def convert_angle(value: Decimal | Fraction, unit: AngleUnit, to: AngleUnit) -> Fraction:
    """Convert ``value`` from ``unit`` to ``to``: exact, or with π to sixty decimals between degrees and radians.

    1 rad = 180°/π (ISO 80000-3). Raises NotANumber for NaN and infinities.
    """
    given = value if isinstance(value, Fraction) else Fraction(finite(value))
    found = given * unit.factor / to.factor
    if unit.is_of_radians == to.is_of_radians:
        return found
    half_turn = Fraction(PI) / 180
    return found / half_turn if unit.is_of_radians else found * half_turn


def parse_angle(text: str, *, step_seconds: Decimal | None = None) -> Fraction:
    """Read an angle typed with its marks, such as 12°30′15.5″, −0° 30', 12,5° or 45″, as exact degrees.

    Only the last part may have decimals; minutes and seconds behind a larger part stay below 60. With a
    ``step_seconds`` the display has, the angle must be a whole multiple of it. Raises AngleUnreadable.
    """
    match = _PARTS.fullmatch(text.strip()) if len(text) <= _LONGEST_TEXT else None
    names = ("degrees", "minutes", "seconds")
    parts = {name: match[name] for name in names if match[name] is not None} if match else {}
    if match is None or not parts:
        raise AngleUnreadable(
            expected="degrees, minutes, seconds with their marks", found=text[:_LONGEST_TEXT]
        )
    found = Fraction(0)
    for place, (name, typed) in enumerate(parts.items()):
        number = Fraction(Decimal(typed.replace(",", ".")))
        if place < len(parts) - 1 and number.denominator != 1:
            raise AngleUnreadable(expected="decimals in the last part only", found=text)
        if place > 0 and number >= 60:
            raise AngleUnreadable(expected=f"{name} below 60", found=text)
        found += number / 60 ** names.index(name)
    if step_seconds is not None:
        _expect_on_step(found, step_seconds, text)
    return -found if match["sign"] in ("-", "\u2212") else found


def sexagesimal(degrees: Fraction, *, decimals: int) -> Sexagesimal:
    """Write exact ``degrees`` in degrees, minutes and seconds; the seconds are rounded once, half to even.

    The rounding carries: 59.9996″ with three decimals is the next minute.
    """
    units = round(abs(degrees) * 3600 * 10**decimals)
    whole, rest = divmod(units, 60 * 10**decimals)
    with localcontext(EXACT):
        seconds = Decimal(rest).scaleb(-decimals)
    return Sexagesimal(degrees < 0 and units > 0, whole // 60, whole % 60, seconds)


def _expect_on_step(degrees: Fraction, step_seconds: Decimal, text: str) -> None:
    if finite(step_seconds) <= 0:
        raise NotANumber(found=str(step_seconds))
    if (degrees * 3600 / Fraction(step_seconds)).denominator != 1:
        raise AngleUnreadable(expected=f"a multiple of the step of {plain(step_seconds):f}″", found=text)
