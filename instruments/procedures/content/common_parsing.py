"""What the rules over the faces and the series are both written with: lengths, windows, bands.

Lives here: readers of these. May not live here: what stands around them (parsing.py, series_parsing.py).
"""

from __future__ import annotations

from decimal import Decimal

from instruments.procedures.content.lengths import Band
from instruments.procedures.content.reader import Reader
from labsys.metrology.angle_readings import MOST_SECONDS
from labsys.metrology.plan import Window

MOST_MM = Decimal(10_000)


def most(reader: Reader) -> Decimal:
    """Give the largest length, or for a content of angles the largest angle: a turn in arc seconds."""
    return MOST_SECONDS if reader.is_angle else MOST_MM


def length(reader: Reader) -> Decimal:
    """Read a length above nought, in mm."""
    return reader.decimal(0, most(reader), above=True)


def optional_length(reader: Reader | None) -> Decimal | None:
    """Read a length above nought, None where it is left out or null."""
    return None if reader is None or reader.value is None else length(reader)


def rising(reader: Reader | None, *, above: bool = False) -> tuple[Decimal, ...]:
    """Read a list of rising lengths, empty where it is left out; ``above`` refuses nought."""
    found: list[Decimal] = []
    for item in reader.items() if reader is not None else ():
        one = item.decimal(0, most(item), above=above)
        if found and one <= found[-1]:
            raise item.fault(f"more than {found[-1]:f}, the length before")
        found.append(one)
    return tuple(found)


def window(reader: Reader) -> Window:
    """Read where one length has to lie; the preferred one lies within."""
    fields = reader.fields(("from_mm", "to_mm"), ("below", "prefer_mm"))
    low = fields["from_mm"].decimal(0, most(reader))
    found = Window(
        from_mm=low,
        to_mm=fields["to_mm"].decimal(low, most(reader), above=True),
        below=fields["below"].truth() if "below" in fields else False,
        prefer_mm=optional_length(fields.get("prefer_mm")),
    )
    if found.prefer_mm is not None and not found.holds(found.prefer_mm):
        raise fields["prefer_mm"].fault("a length within the window")
    return found


def bands(reader: Reader) -> tuple[Band, ...]:
    """Read bands, rising by range."""
    found: list[Band] = []
    for item in reader.items(least=1):
        fields = item.fields(("range_up_to_mm", "least_points"), ("lengths_mm", "lengths_in"))
        band = Band(
            range_up_to_mm=length(fields["range_up_to_mm"]),
            least_points=fields["least_points"].whole(1, 50),
            lengths_mm=rising(fields.get("lengths_mm"), above=True),
            lengths_in=rising(fields.get("lengths_in"), above=True),
        )
        if found and band.range_up_to_mm <= found[-1].range_up_to_mm:
            raise fields["range_up_to_mm"].fault(f"more than {found[-1].range_up_to_mm:f}, the band before")
        found.append(band)
    return tuple(found)
