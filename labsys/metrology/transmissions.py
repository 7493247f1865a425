"""What an instrument's cable sends, made into the text of one reading.

Lives here: the frame around the number: line ends, spaces, exponents, what else stands there. May not live here: the
number itself (readings.py). No maker's own format: what isn't described by an open standard is refused, not guessed.
"""

from __future__ import annotations

import re
from decimal import Decimal

from labsys.errors import LabError
from labsys.metrology.exact import EXACT, NotANumber, plain
from labsys.metrology.readings import ParsedReading, parse_reading
from labsys.metrology.units import Unit

_LONGEST = 200
_ENDS = re.compile(r"[\r\n]+")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_SCIENTIFIC = re.compile(
    r"(?P<number>[+\-]?\s*[0-9]*\.?[0-9]*[0-9.])E(?P<exponent>[+\-]?[0-9]{1,2})(?P<unit>\s*[^0-9\s]*)"
)
_HEADER = re.compile(
    r"(?P<header>[^\s0-9.,+\-\u2212][^\s.,+\-\u2212:=]*)\s*[:=]?\s*[+\-\u2212]?\s*[0-9.,].*", re.DOTALL
)


class NotOneReading(LabError, ValueError):
    """Nothing, or several lines, where one reading was to come."""

    code = "not-one-reading"
    field = "reading"
    sentence = "Expected one reading from the cable, found {found}. Send each reading by itself."


class UnknownHeader(LabError, ValueError):
    """Something in front of the number whose meaning no open standard says."""

    code = "unknown-header"
    field = "reading"
    sentence = (
        "Expected the number and its unit alone, found “{found}” in front of it. Switch headers and channel names off "
        "at the instrument or the interface."
    )


def parse_transmission(text: str, *, unit: Unit, step: Decimal | None) -> ParsedReading:
    """Read what a cable sent as a length in ``unit``, with ``step`` as for ``parse_reading``.

    Understood: line ends (CR, LF, any number of them) behind or before; spaces around, and between sign and number;
    leading zeros; comma or point; a unit; numbers in the three forms of IEEE 488.2, 8.7.2 to 8.7.4 (from memory):
    +12, +12.345, +1.2345E+01. Refused by name: several lines, control characters, anything in front of the number.
    Raises NotOneReading, UnknownHeader and what ``parse_reading`` raises.
    """
    lines = [line.strip() for line in _ENDS.split(text) if line.strip()]
    if len(lines) != 1 or len(text) > _LONGEST:
        raise NotOneReading(found=f"{len(lines)} lines of {len(text)} characters")
    line = lines[0]
    if _CONTROL.search(line):
        raise NotANumber(found=_CONTROL.sub("�", line))
    header = _HEADER.fullmatch(line)
    if header is not None:
        raise UnknownHeader(found=header["header"])
    return parse_reading(_without_exponent(line), unit=unit, step=step)


def _without_exponent(line: str) -> str:
    match = _SCIENTIFIC.fullmatch(line)
    if match is None or match["number"].count(".") > 1 or not any(one.isdigit() for one in match["number"]):
        return line
    number = Decimal("".join(match["number"].split())).scaleb(int(match["exponent"]), EXACT)
    # A mantissa has a fixed length: zeros at its end are no digits of the display.
    return f"{plain(number):f}{match['unit']}"
