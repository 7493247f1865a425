"""What was typed at a point, by the way its series is read: a length, a count of bands, whether it fits.

Lives here: from text to a value with its unit, and to exact mm. May not live here: whether it is plausible.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Content
from instruments.procedures.scales import scale_of
from labsys.errors import LabError
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.readings import parse_reading
from labsys.metrology.units import Quantity, Unit

_BANDS = re.compile(r"[0-9]{1,3}([.,][05])?")
_FITS = {"yes": True, "y": True, "1": True, "no": False, "n": False, "0": False}
FITS, MISSES = "yes", "no"


class NoCountOfBands(LabError, ValueError):
    """Bands are counted, in halves at the finest."""

    code: ClassVar[str] = "no-count-of-bands"
    field: ClassVar[str | None] = "reading"
    sentence: ClassVar[str] = (
        "Expected a count of bands in whole or half ones, such as 2 or 1.5, found “{found}”."
    )


class NeitherYesNorNo(LabError, ValueError):
    """What fits or doesn't is answered yes or no."""

    code: ClassVar[str] = "neither-yes-nor-no"
    field: ClassVar[str | None] = "reading"
    sentence: ClassVar[str] = "Expected yes or no, found “{found}”."


@dataclass(frozen=True)
class Typed:
    """What was typed: the value in its unit, and in mm (arc seconds); the unit is empty for a count or an answer."""

    value: Decimal
    unit: str
    value_mm: Decimal

    @property
    def words(self) -> str:
        """Write value and unit."""
        if self.unit and Unit(self.unit).quantity is Quantity.ANGLE:
            return angle_text(self.value_mm, Unit(self.unit))
        return f"{self.value:f} {self.unit}".rstrip()


def read_typed(raw: str, code: str, model: GaugeModel, content: Content) -> Typed:
    """Read what was typed at a point of this series or function.

    Raises NoCountOfBands, NeitherYesNorNo, and what ``parse_reading`` raises.
    """
    one = content.series_of(code)
    if one is not None and one.reads == "attribute":
        fits = _FITS.get(raw.strip().casefold())
        if fits is None:
            raise NeitherYesNorNo(found=raw[:40])
        return Typed(Decimal(fits), "", Decimal(fits))
    if one is not None and one.band_mm is not None:
        if not _BANDS.fullmatch(raw.strip()):
            raise NoCountOfBands(found=raw[:40])
        count = Decimal(raw.strip().replace(",", "."))
        return Typed(count, "", count * one.band_mm)
    scale = scale_of(code, model, content)
    parsed = parse_reading(raw, unit=scale.unit, step=scale.step)
    return Typed(parsed.value, parsed.unit.value, parsed.value_mm)
