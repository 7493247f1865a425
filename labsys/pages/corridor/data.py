"""What a corridor is drawn from, and the three boxes it is drawn into."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from labsys.errors import LabError
from labsys.metrology.units import Unit, to_mm

VERDICTS = (
    "in_tolerance",
    "not_accepted",
    "out_of_tolerance",
    "not_decided",
    "conditional_inside",
    "conditional_outside",
)

# Millimetres in one of the unit, arc seconds in one of angle; exact.
UNITS: dict[str, Decimal] = {unit.value: to_mm(Decimal(1), unit) for unit in Unit}


class UnknownVerdict(LabError, ValueError):
    """A verdict that the corridor has no shape for."""

    code = "unknown-verdict"
    sentence = "“{found}” is no verdict that can be drawn; expected one of {known}, or none."


class UnknownBox(LabError, ValueError):
    """A box that no corridor is made for."""

    code = "unknown-box"
    sentence = "There is no corridor for the box “{found}”; choose one of {known}."


class UnknownUnit(LabError, ValueError):
    """A unit that lengths are not shown in."""

    code = "unknown-unit"
    sentence = "Lengths can't be shown in “{found}”; choose one of {known}."


@dataclass(frozen=True)
class Earlier:
    """The result before the adjustment, in millimetres, with its verdict."""

    error_mm: Decimal
    verdict: str | None = None


@dataclass(frozen=True)
class CorridorData:
    """One result with all that the picture says of it; every length in millimetres, ``unit`` only for showing.

    Where ``unit`` is one of angle, arc seconds stand for the millimetres.

    ``U_mm`` is the uncertainty that the rule names (``U_name`` says which), None where the result has none. A limit or
    acceptance limit that is None is not there. ``step_text`` is the gauge's step in its own unit, as printed ("0.01").
    Before anything was read (``is_read`` false) the corridor stands without a mark.
    """

    label: str
    error_mm: Decimal
    U_mm: Decimal | None = None
    lower_mm: Decimal | None = None
    upper_mm: Decimal | None = None
    acceptance_lower_mm: Decimal | None = None
    acceptance_upper_mm: Decimal | None = None
    verdict: str | None = None
    unit: str = "mm"
    step_text: str = ""
    as_found: Earlier | None = None
    U_name: str = "U"
    is_read: bool = True

    def __post_init__(self) -> None:
        """Refuse a verdict or unit that has no picture."""
        for verdict in (self.verdict, self.as_found.verdict if self.as_found else None):
            if verdict is not None and verdict not in VERDICTS:
                raise UnknownVerdict(found=verdict, known=", ".join(VERDICTS))
        if self.unit not in UNITS:
            raise UnknownUnit(found=self.unit, known=", ".join(UNITS))

    def shown(self, length_mm: Decimal) -> Decimal:
        """Give a length in the unit that is shown."""
        return length_mm / UNITS[self.unit]

    def number(self, length_mm: Decimal) -> float:
        """Give a length in the unit that is shown, for drawing."""
        return float(self.shown(length_mm))

    @property
    def margin_mm(self) -> Decimal | None:
        """Give the distance to the nearer limit, negative outside; None where there is no limit."""
        distances = []
        if self.upper_mm is not None:
            distances.append(self.upper_mm - self.error_mm)
        if self.lower_mm is not None:
            distances.append(self.error_mm - self.lower_mm)
        return min(distances, default=None)


@dataclass(frozen=True)
class Box:
    """One size of the picture, in pixels at scale 1; ``font`` is 0 where no numerals are drawn."""

    name: str
    width: float
    height: float
    band_top: float
    band_bottom: float
    radius: float
    earlier_radius: float
    cap: float
    tick: float
    long_tick: float
    font: float
    label_y: float
    note_y: float

    @property
    def middle_y(self) -> float:
        """Give the height of the mark when nothing was found before it."""
        return (self.band_top + self.band_bottom) / 2

    @property
    def band_height(self) -> float:
        """Give the height of the band."""
        return self.band_bottom - self.band_top

    @property
    def tick_bottom(self) -> float:
        """Give the lower end of a tick."""
        return self.band_bottom + self.tick

    @property
    def long_bottom(self) -> float:
        """Give the lower end of every fifth tick and of the walls."""
        return self.band_bottom + self.long_tick

    @property
    def axis_end(self) -> float:
        """Give the right end of the axis; the left one is 1."""
        return self.width - 1

    @property
    def margin(self) -> float:
        """Give the free strip at each side: 4 % of the width, or what a mark with its halo needs."""
        return max(0.04 * self.width, self.radius + 3.0)


BOXES: dict[str, Box] = {
    "bench": Box(
        name="bench", width=640, height=112, band_top=24, band_bottom=76, radius=7, earlier_radius=7, cap=9,
        tick=6, long_tick=11, font=17, label_y=104, note_y=17,
    ),
    "row": Box(
        name="row", width=320, height=56, band_top=14, band_bottom=38, radius=7, earlier_radius=5, cap=6,
        tick=3, long_tick=5.5, font=13, label_y=54, note_y=11,
    ),
    "list": Box(
        name="list", width=160, height=24, band_top=2, band_bottom=18, radius=6, earlier_radius=4.5, cap=5,
        tick=2.5, long_tick=4.5, font=0, label_y=0, note_y=0,
    ),
}  # fmt: skip


def box(name: str) -> Box:
    """Give the box of that name; raises UnknownBox."""
    if name not in BOXES:
        raise UnknownBox(found=name, known=", ".join(BOXES))
    return BOXES[name]
