"""How an angle is typed by the scale it is read on, and how angles are written for people.

Lives here: readings of protractors, in decimal degrees or in degrees and minutes; the written form of an angle in arc
seconds. May not live here: angles in questions to the arithmetic (angles.py), lengths (readings.py).
"""

from __future__ import annotations

import re
from decimal import Decimal, localcontext
from fractions import Fraction

from labsys.errors import LabError
from labsys.metrology.angles import Sexagesimal, parse_angle, sexagesimal
from labsys.metrology.exact import EXACT, exponent_of, plain
from labsys.metrology.units import Unit, to_mm

MOST_SECONDS = Decimal(1_296_000)
"""Largest angle kept: one turn, 360°, in arc seconds."""

FINEST = 8
"""Decimals of an arc second that are kept."""

_LONGEST_TEXT = 64
_SIGN = r"(?P<sign>[+\-\u2212]?)\s*"
_DEGREE = r"(?:°|º|deg)"
_MINUTE = r"(?:'|\u2032|\u2019|min|arcmin)"
_SECOND = r"(?:\"|\u2033|''|\u2032\u2032|\u201d|sec|arcsec)"
_NUMBER = r"[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+"
_DECIMAL = re.compile(rf"{_SIGN}(?P<degrees>{_NUMBER})\s*{_DEGREE}?", re.IGNORECASE)
_MARKED = re.compile(
    rf"{_SIGN}(?:(?P<degrees>[0-9]+)\s*{_DEGREE}\s*)?(?:(?P<minutes>{_NUMBER})\s*{_MINUTE}\s*)?"
    rf"(?:(?P<seconds>{_NUMBER})\s*{_SECOND}\s*)?",
    re.IGNORECASE,
)
_SPACED = re.compile(
    rf"{_SIGN}(?P<degrees>[0-9]+)(?:\s*{_DEGREE}\s*|\s+)(?P<minutes>{_NUMBER})\s*{_MINUTE}?"
    rf"(?:\s+(?P<seconds>{_NUMBER})\s*{_SECOND}?)?",
    re.IGNORECASE,
)
_NOUGHT = re.compile(r"[+\-\u2212]?\s*0")
_BARE = re.compile(rf"{_SIGN}(?P<number>{_NUMBER})")
_NAMES = ("degrees", "minutes", "seconds")
_MARKS = "°′″'\""
_EXAMPLES = {Unit.DEG: "45.01", Unit.ARCMIN: "45 05 or 45°05′", Unit.ARCSEC: "45 05 30 or 45°05′30″"}


class AngleMisread(LabError, ValueError):
    """A text that is no angle as this scale shows it."""

    code = "angle-misread"
    field = "reading"
    sentence = "Expected {expected}, found “{found}”. Type it as in {example}."


class AngleOutOfRange(LabError, ValueError):
    """An angle of more than a turn, or finer than is kept."""

    code = "angle-out-of-range"
    field = "reading"
    sentence = (
        "Expected an angle within ±360° with at most 8 decimals of an arc second, found {found}. Look for a missing "
        "point or mark."
    )


def read_angle(text: str, *, unit: Unit) -> tuple[Decimal, Decimal]:
    """Read a typed angle as its scale shows it; give its value in ``unit``, and exactly in arc seconds.

    ``°``: decimal degrees, 45.01. ``′``: degrees and minutes, 45 05, 45°05′, 45° 5', 45°, 5′; ``″``: the same with
    seconds. A lone number without its mark, and 45.05 where minutes are read, can be meant two ways and are refused,
    nought apart; so are minutes and seconds of 60 and more. Raises AngleMisread, AngleOutOfRange.
    """
    typed = text.strip()
    if len(text) > _LONGEST_TEXT:
        raise AngleMisread(expected="an angle", found=typed[:_LONGEST_TEXT], example=_EXAMPLES[unit])
    found = _decimal_degrees(typed) if unit is Unit.DEG else _minutes(typed, unit)
    negative = typed[:1] in ("-", "\u2212")
    seconds = Fraction(found) * unit.factor_mm
    with localcontext(EXACT):
        value = plain(-found if negative and found else found)
        exact = to_mm(value, unit)
    if seconds > Fraction(MOST_SECONDS) or exponent_of(plain(exact)) < -FINEST:
        raise AngleOutOfRange(found=typed)
    return value, exact


def is_marked(text: str) -> bool:
    """Say whether a text bears a mark of angle, °, ′ or ″, as keys give them too."""
    return any(mark in text for mark in _MARKS)


def enter_angle(text: str, *, unmarked: Unit) -> Decimal:
    """Read an angle entered with its marks (45°, 5′, 0.3″, 12°30′), or a number alone as ``unmarked``; in arc seconds.

    Raises AngleUnreadable, AngleOutOfRange.
    """
    typed = text.strip()
    bare = _BARE.fullmatch(typed)
    if bare:
        number = Fraction(_number(bare["number"])) * unmarked.factor_mm
        found = -number if bare["sign"] in ("-", "\u2212") else number
    else:
        found = parse_angle(typed) * 3600
    scaled = found * 10**FINEST
    if scaled.denominator != 1 or abs(found) > Fraction(MOST_SECONDS):
        raise AngleOutOfRange(found=typed)
    with localcontext(EXACT):
        return plain(Decimal(scaled.numerator).scaleb(-FINEST))


def angle_text(seconds: Decimal, unit: Unit) -> str:
    """Write an angle given in arc seconds as the scale it is read on shows it: 45.01°, 45° 05′, 45° 05′ 30″.

    Nothing is lost: what doesn't end within four decimals of a degree, or isn't whole in minutes, is written with its
    seconds.
    """
    exact = Fraction(seconds)
    if unit is Unit.DEG and (exact / 3600 * 10_000).denominator == 1:
        with localcontext(EXACT):
            degrees = plain(Decimal((exact / 3600 * 10_000).numerator).scaleb(-4))
        return f"{degrees:f}°".replace("-", "\u2212")
    shown = sexagesimal(exact / 3600, decimals=max(0, -exponent_of(plain(seconds))))
    return _written(shown, with_seconds=bool(shown.seconds) or unit is Unit.ARCSEC)


def _written(shown: Sexagesimal, *, with_seconds: bool) -> str:
    sign, gap = "\u2212" if shown.is_negative else "", "\N{NO-BREAK SPACE}"
    parts = [f"{sign}{shown.degrees}°", f"{shown.minutes:02d}′"]
    if with_seconds:
        whole, point, rest = f"{shown.seconds:f}".partition(".")
        parts.append(f"{whole:0>2}{point}{rest}″")
    return gap.join(parts)


def _decimal_degrees(typed: str) -> Decimal:
    match = _DECIMAL.fullmatch(typed)
    if match is None:
        raise AngleMisread(
            expected="degrees with decimals, as this gauge shows them",
            found=typed,
            example=_EXAMPLES[Unit.DEG],
        )
    return _number(match["degrees"])


def _minutes(typed: str, unit: Unit) -> Decimal:
    """Read degrees, minutes and seconds as one number in minutes, or in seconds."""
    if _NOUGHT.fullmatch(typed):
        return Decimal(0)
    match = _SPACED.fullmatch(typed) or _MARKED.fullmatch(typed)
    parts = {name: match[name] for name in _NAMES if match is not None and match[name] is not None}
    if not parts:
        expected = "degrees and minutes, or one number with its mark (45° or 5′)"
        raise AngleMisread(expected=expected, found=typed, example=_EXAMPLES[unit])
    if unit is Unit.ARCMIN and "seconds" in parts:
        raise AngleMisread(expected="degrees and minutes, no seconds", found=typed, example=_EXAMPLES[unit])
    total = Decimal(0)
    for place, (name, part) in enumerate(parts.items()):
        number = _number(part)
        if place < len(parts) - 1 and not part.isdigit():
            raise AngleMisread(
                expected="decimals in the last part only", found=typed, example=_EXAMPLES[unit]
            )
        if place > 0 and number >= 60:
            raise AngleMisread(expected=f"{name} below 60", found=typed, example=_EXAMPLES[unit])
        per = 60 ** (_NAMES.index("minutes" if unit is Unit.ARCMIN else "seconds") - _NAMES.index(name))
        total += number * per
    return total


def _number(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))
