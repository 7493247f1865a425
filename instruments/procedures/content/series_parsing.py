"""From JSON to the series of a procedure, every fault naming its place.

Lives here: fields of series, their bounds, what must agree between them. May not live here: the rest of the content.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from instruments.procedures.content import common_parsing as common
from instruments.procedures.content import lengths as ways
from instruments.procedures.content.reader import Reader
from instruments.procedures.content.series import (
    DIRECTIONS,
    READS,
    RESULTS,
    SKETCHES,
    ReadOn,
    ResultRule,
    Series,
)
from labsys.laboratory.models import CHARACTERISTICS, MeasuringFunction
from labsys.metrology.characteristics import ORDERS
from labsys.metrology.units import Quantity

_SLUG = re.compile(r"[a-z][a-z0-9_]{0,19}")
_PLACE = re.compile(r"[a-z0-9_]+([/-][a-z0-9]+)?")
_FITTING = {
    "error": ("indication",),
    "deviation": ("difference", "value"),
    "value": ("value", "bands"),
    "attribute": ("attribute",),
}
"""Which results of a point go with which ways of reading."""

Budget = Callable[[Reader], tuple[Mapping[str, Any], ...]]


def read_series(reader: Reader, budget: Budget) -> tuple[Series, ...]:
    """Read the list of series; ``budget`` reads a list of components."""
    found: list[Series] = []
    for item in reader.items():
        one = _series(item, budget)
        if one.code in {other.code for other in found}:
            raise item.at("code").fault("a code used once")
        found.append(one)
    return tuple(found)


_REQUIRED = ("code", "name", "lengths", "results", "reading_rule")
_OPTIONAL = (
    *(
        "needs",
        "places",
        "each_place",
        "directions",
        "reads",
        "serves",
        "within_mm",
        "most_blocks",
        "repeats",
    ),
    *("spread_limit_mm", "band_mm", "on", "order", "caution", "sketch", "budget"),
)


def _series(reader: Reader, budget: Budget) -> Series:
    fields = dict(reader.fields(_REQUIRED, _OPTIONAL))
    given = {name: item for name, item in fields.items() if item.value is not None}
    one = Series(
        code=_slug(given.get("code", reader.at("code"))),
        name=fields["name"].text(),
        lengths=_lengths(fields["lengths"]),
        results=fields["results"].list_of(_result, least=1),
        reading_rule=fields["reading_rule"].text(),
        **{name: read(given[name]) for name, read in _READERS.items() if name in given},
        budget=budget(given["budget"]) if "budget" in given else None,
    )
    _agree(one, reader)
    return one


def _slug(reader: Reader) -> str:
    text = reader.text()
    if not _SLUG.fullmatch(text):
        raise reader.fault("lower-case letters, digits and underscores, at most 20, beginning with a letter")
    return text


def _place(reader: Reader) -> str:
    text = reader.text()
    if not _PLACE.fullmatch(text) or len(text) > 24:
        raise reader.fault("a place such as middle, edge-90 or entry/90, at most 24 characters")
    return text


def _places(reader: Reader) -> tuple[str, ...]:
    places = reader.list_of(_place)
    if len(set(places)) != len(places):
        raise reader.fault("every place once", "one of them twice")
    return places


def _directions(reader: Reader) -> tuple[str, ...]:
    directions = reader.list_of(lambda item: item.choice(*DIRECTIONS))
    if directions not in ((), ("up",), ("up", "down")):
        raise reader.fault("no direction, up, or up and then down", ", ".join(directions))
    return directions


def _function(reader: Reader) -> str:
    return reader.choice("", *MeasuringFunction.values)


def _on(reader: Reader) -> ReadOn:
    fields = reader.fields(("unit", "step"))
    quantity = Quantity.ANGLE if reader.is_angle else Quantity.LENGTH
    return ReadOn(
        fields["unit"].choice(*(unit.value for unit in quantity.units)), common.length(fields["step"])
    )


_READERS: dict[str, Callable[[Reader], Any]] = {
    "needs": _function,
    "places": _places,
    "each_place": Reader.truth,
    "directions": _directions,
    "reads": lambda reader: reader.choice(*READS),
    "serves": _function,
    "within_mm": common.length,
    "most_blocks": lambda reader: reader.whole(1, 4),
    "repeats": lambda reader: reader.whole(1, 20),
    "spread_limit_mm": common.length,
    "band_mm": lambda reader: reader.decimal(0, Decimal("0.001"), above=True),
    "on": _on,
    "order": lambda reader: reader.choice("", *ORDERS),
    "caution": lambda reader: reader.text(empty=True),
    "sketch": lambda reader: reader.choice("", *SKETCHES),
}


def _result(reader: Reader) -> ResultRule:
    fields = reader.fields(("kind", "limit"), ("name", "direction", "within_mm", "within_in"))
    rule = ResultRule(
        kind=fields["kind"].choice(*RESULTS),
        limit=fields["limit"].choice(*CHARACTERISTICS),
        name=fields["name"].text(empty=True) if "name" in fields else "",
        direction=fields["direction"].choice("", *DIRECTIONS) if "direction" in fields else "",
        within_mm=common.optional_length(fields.get("within_mm")),
        within_in=common.optional_length(fields.get("within_in")),
    )
    if (rule.kind == "section") != (rule.within_mm is not None):
        raise reader.at("within_mm").fault(
            "the length of the section, for a section span only", rule.within_mm
        )
    if rule.kind != "section" and rule.within_in is not None:
        raise reader.at("within_in").fault(
            "no length of a section, where no section span is judged", rule.within_in
        )
    return rule


def _agree(one: Series, reader: Reader) -> None:
    """Refuse what could never be measured or judged."""
    place = reader.at("results")
    if sum(rule.is_of_each_point for rule in one.results) > 1:
        raise place.fault("at most one result of every point", "several")
    for rule in one.results:
        if one.reads not in _FITTING.get(rule.kind, (one.reads,)) or (
            one.reads == "attribute" and rule.kind != "attribute"
        ):
            raise place.fault(f"a result that goes with reading “{one.reads}”", rule.kind)
        if rule.kind == "hysteresis" and len(one.directions) < 2:
            raise reader.at("directions").fault(
                "both directions, for the hysteresis", ", ".join(one.directions) or None
            )
        if rule.kind == "spread" and one.repeats < 2:
            raise reader.at("repeats").fault("at least two readings, for their spread", one.repeats)
        if rule.kind in ("roundness", "taper") and not all("/" in code for code in one.places):
            raise reader.at("places").fault(
                "places such as entry/90, section and angle", ", ".join(one.places)
            )
    if one.order and one.reads != "difference":
        raise reader.at("order").fault("no order of readings, where no difference is read", one.order)
    if (one.reads == "bands") != (one.band_mm is not None):
        raise reader.at("band_mm").fault("half the wavelength, where bands are counted", one.band_mm)
    if one.reads in ("indication", "difference") and not one.serves:
        raise reader.at("serves").fault("the function that a reference must serve", None)


def _lengths(reader: Reader) -> ways.Lengths:
    kind = reader.at("kind").choice(*_WAYS)
    return _WAYS[kind](reader)


def _fixed(reader: Reader) -> ways.FixedList:
    fields = reader.fields(("kind", "mm"), ("inch",))
    return ways.FixedList(common.rising(fields["mm"]), common.rising(fields.get("inch")))


def _from_low(reader: Reader) -> ways.FromLow:
    fields = reader.fields(("kind", "mm"), ("inch", "with_low"))
    with_low = fields["with_low"].truth() if "with_low" in fields else True
    return ways.FromLow(common.rising(fields["mm"]), common.rising(fields.get("inch")), with_low)


def _spread(reader: Reader) -> ways.Spread:
    fields = reader.fields(("kind", "bands"), ("low_share", "far_share"))
    shares: dict[str, Any] = {
        name: fields[name].decimal(0, 1, above=True) for name in ("low_share", "far_share") if name in fields
    }
    return ways.Spread(common.bands(fields["bands"]), **shares)


def _segments(reader: Reader) -> ways.Segments:
    fields = reader.fields(("kind", "parts"), ("inch_parts",))
    parts = _stretches(fields["parts"].items(least=1), "mm")
    inch = _stretches(fields["inch_parts"].items(), "in") if "inch_parts" in fields else []
    return ways.Segments(
        tuple(ways.Segment(*stretch) for stretch in parts),
        tuple(ways.InchSegment(*stretch) for stretch in inch),
    )


def _stretches(items: Sequence[Reader], unit: str) -> list[tuple[Decimal, Decimal]]:
    """Read stretches in ``unit``: up to where, and every so many."""
    end, step = f"up_to_{unit}", f"every_{unit}"
    found: list[tuple[Decimal, Decimal]] = []
    for item in items:
        inner = item.fields((end, step))
        up_to = common.length(inner[end])
        if found and up_to <= found[-1][0]:
            raise inner[end].fault(f"more than {found[-1][0]:f}, the stretch before")
        found.append((up_to, common.length(inner[step])))
    return found


def _shares(reader: Reader) -> ways.Shares:
    found = common.rising(reader.fields(("kind", "of_range"))["of_range"])
    if not found or found[-1] > 1:
        raise reader.at("of_range").fault("shares of the range from 0 to 1, rising", found and found[-1])
    return ways.Shares(found)


def _window(reader: Reader) -> ways.InWindow:
    return ways.InWindow(common.window(reader.fields(("kind", "window"))["window"]))


def _member(reader: Reader) -> ways.OneMember:
    return ways.OneMember(reader.fields(("kind", "label"))["label"].text())


def _plain(way: Callable[[], ways.Lengths]) -> Callable[[Reader], ways.Lengths]:
    def read(reader: Reader) -> ways.Lengths:
        reader.fields(("kind",))
        return way()

    return read


_WAYS: dict[str, Callable[[Reader], ways.Lengths]] = {
    "list": _fixed,
    "from-low": _from_low,
    "spread": _spread,
    "segments": _segments,
    "shares": _shares,
    "window": _window,
    "nominal": _plain(ways.Nominal),
    "member": _member,
    "members": _plain(ways.EveryMember),
    "none": _plain(ways.NoLength),
}
