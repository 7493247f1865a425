"""Where the lengths of a series lie, in words.

May not live here: the other facts of a series (series.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
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
            yield from _spread(lengths, quantity)
        case ways.Segments():
            yield from _segments(lengths, quantity)
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


def _segments(lengths: ways.Segments, quantity: Quantity) -> Iterator[str]:
    said = _stretches(
        (measure(one.up_to_mm, quantity), measure(one.every_mm, quantity)) for one in lengths.parts
    )
    yield f"From nothing on: {said}. What lies beyond the range is left out."
    if lengths.inch_parts:
        said = _stretches(
            (number(one.up_to_in, "in"), number(one.every_in, "in")) for one in lengths.inch_parts
        )
        yield f"Gauges in inches, from nothing on: {said}."


def _stretches(found: Iterable[tuple[str, str]]) -> str:
    return "; ".join(f"up to {end} every {every}" for end, every in found)


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


def _spread(lengths: ways.Spread, quantity: Quantity) -> Iterator[str]:
    low, far = (number(share * 100, "%") for share in (lengths.low_share, lengths.far_share))
    yield f"Spread over the range: one within the lowest {low} of it, one at {far} or beyond."
    for band in lengths.bands:
        yield band_words(band, quantity)


def band_words(band: Band, quantity: Quantity) -> str:
    """Say how many points measuring ranges up to a limit get, and which lengths first."""
    points = f"{band.least_points} point{'' if band.least_points == 1 else 's'}"
    given = "; ".join(_first(band, quantity))
    first = f", first {given}" if given else ""
    return f"Ranges up to {measure(band.range_up_to_mm, quantity)}: at least {points}{first}."


def _first(band: Band, quantity: Quantity) -> Iterator[str]:
    if quantity is Quantity.ANGLE:
        if band.lengths_mm:
            yield listed(measure(one, quantity) for one in band.lengths_mm)
        return
    for unit, lengths in (("mm", band.lengths_mm), ("in", band.lengths_in)):
        if lengths:
            yield row_of(lengths, unit)
