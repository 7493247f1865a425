"""Where the lengths of a series lie, in words.

May not live here: the other facts of a series (series.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from instruments.procedures.content import Band
from instruments.procedures.content import lengths as ways
from instruments.procedures.document.parts import listed, measure, number
from labsys.metrology.plan import Window
from labsys.metrology.units import Quantity


def lengths_words(lengths: ways.Lengths, quantity: Quantity) -> tuple[str, ...]:
    """Say where lengths lie, a sentence for each thing that is said of them."""
    return tuple(_sentences(lengths, quantity))


def _sentences(lengths: ways.Lengths, quantity: Quantity) -> Iterator[str]:
    match lengths:
        case ways.FixedList():
            yield from _both("Gauges in", lengths.mm, lengths.inch, quantity)
            yield "Those beyond the gauge's range are left out."
        case ways.FromLow():
            yield from _both(
                "Counted from the low end of the range, gauges in", lengths.mm, lengths.inch, quantity
            )
            low = "is a point too, unless the range begins at nothing" if lengths.with_low else "is no point"
            yield f"The low end itself {low}."
        case ways.Spread():
            yield from _spread(lengths)
        case ways.Segments():
            yield from _segments(lengths)
        case ways.Shares():
            yield f"At {row_of([share * 100 for share in lengths.of_range], '%')} of the measuring range."
        case ways.InWindow():
            yield from window_words(lengths.window, quantity)
        case ways.OneMember():
            yield f"The size of the member “{lengths.label}”."
        case ways.Nominal():
            yield "The gauge's own size."
        case ways.EveryMember():
            yield "The size of every member."
        case ways.NoLength():
            yield "No length."


def _segments(lengths: ways.Segments) -> Iterator[str]:
    in_mm = [(one.up_to_mm, one.every_mm) for one in lengths.parts]
    in_inches = [(one.up_to_in, one.every_in) for one in lengths.inch_parts]
    yield f"From nothing on: {_stretches(in_mm, 'mm')}. What lies beyond the range is left out."
    if in_inches:
        yield f"Gauges in inches, from nothing on: {_stretches(in_inches, 'in')}."


def _stretches(found: Sequence[tuple[Decimal, Decimal]], unit: str) -> str:
    return "; ".join(f"up to {number(end, unit)} every {number(every, unit)}" for end, every in found)


def window_words(window: Window, quantity: Quantity) -> Iterator[str]:
    """Say where one length has to lie."""
    below = "under " if window.below else ""
    yield f"From {measure(window.from_mm, quantity)} to {below}{measure(window.to_mm, quantity)}."
    if window.prefer_mm is not None:
        yield f"Nearest to {measure(window.prefer_mm, quantity)} first."


def row_of(numbers: Sequence[Decimal], unit: str) -> str:
    """Write several numbers with their unit once: 2.5, 5.1, 7.7 mm."""
    *before, last = numbers
    return listed([*(number(one) for one in before), number(last, unit)])


_AT = {
    "Gauges in": "At ",
    "Counted from the low end of the range, gauges in": "Counted from the low end of the range: ",
}


def _both(words: str, mm: Sequence[Decimal], inch: Sequence[Decimal], quantity: Quantity) -> Iterator[str]:
    if quantity is Quantity.ANGLE:
        yield f"{_AT[words]}{listed(measure(one, quantity) for one in mm)}."
        return
    for unit, name, lengths in (("mm", "millimetres", mm), ("in", "inches", inch)):
        if lengths:
            yield f"{words} {name}: {row_of(lengths, unit)}."


def _spread(lengths: ways.Spread) -> Iterator[str]:
    low, far = (number(share * 100, "%") for share in (lengths.low_share, lengths.far_share))
    yield f"Spread over the range: one within the lowest {low} of it, one at {far} or beyond."
    for band in lengths.bands:
        yield band_words(band)


def band_words(band: Band) -> str:
    """Say how many points measuring ranges up to a limit get, and which lengths first."""
    points = f"{band.least_points} point{'' if band.least_points == 1 else 's'}"
    given = tuple(
        row_of(lengths, unit)
        for unit, lengths in (("mm", band.lengths_mm), ("in", band.lengths_in))
        if lengths
    )
    first = f", first {'; '.join(given)}" if given else ""
    return f"Ranges up to {number(band.range_up_to_mm, 'mm')}: at least {points}{first}."
