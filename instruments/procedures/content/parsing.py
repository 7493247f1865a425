"""From JSON text to a procedure's content, every fault naming its place.

Lives here: the fields, their bounds, and what must agree between them. May not live here: arithmetic, tables.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any, ClassVar

from instruments.procedures.content import common_parsing as common
from instruments.procedures.content import of_angles, parts
from instruments.procedures.content.reader import ContentFault, Reader
from instruments.procedures.content.series_parsing import read_series
from labsys.errors import LabError
from labsys.metrology.plan import Window
from labsys.metrology.rules import BadRule, Rule
from labsys.metrology.specs import Spec, SpecUnreadable, spec_from_json, spec_to_json
from labsys.metrology.units import Quantity

FORMAT = 2
"""The form in which a content is written. Format 1 knew no series; it reads on as it is."""

LONGEST_CONTENT = 200_000
ROUNDINGS = ("half-even", "half-up")


class ContentNotJson(LabError, ValueError):
    """The text is no JSON at all."""

    code: ClassVar[str] = "procedure-content-not-json"
    field: ClassVar[str | None] = "content"
    sentence: ClassVar[str] = (
        "Expected a procedure's content as JSON, found a fault: {fault}. Export a revision to see the form."
    )


def parse(text: str) -> parts.Content:
    """Read a procedure's content from JSON; raises ContentNotJson, or ContentFault naming the place."""
    top = Reader(_load(text))
    quantity = _quantity(top)
    top = replace(top, is_angle=quantity == Quantity.ANGLE)
    fields = top.fields(_REQUIRED, _OPTIONAL)
    fields["format"].whole(1, FORMAT)
    content = parts.Content(
        scope=fields["scope"].text(),
        method=fields["method"].list_of(Reader.text, least=1),
        cautions=_texts(fields, "cautions"),
        looks=_looks(fields["looks"]),
        zero=_zero(fields["zero"]),
        points=_points(fields["points"])
        if "points" in fields and fields["points"].value is not None
        else None,
        reading_rules=_by_name(fields["reading_rules"], parts.FUNCTIONS),
        readable_parts=_readable_parts(fields["readable_parts"]),
        repeats=fields["repeats"].whole(1, 20),
        spread_limit_mm=common.optional_length(fields.get("spread_limit_mm")),
        conditions=_conditions(fields["conditions"]),
        references=_references(fields["references"]),
        budget=_budget(fields["budget"]),
        repeatability=_repeatability(fields.get("repeatability")),
        probability=float(fields["probability"].decimal(Decimal("0.5"), Decimal("0.9999"))),
        digits=fields["digits"].whole(1, 2),
        rounding=fields["rounding"].choice(*ROUNDINGS),
        rule=_rule(fields["rule"]),
        starting_values=_texts(fields, "starting_values"),
        series=read_series(fields["series"], _budget) if "series" in fields else (),
        quantity=quantity,
    )
    if content.points is None and not content.series:
        raise top.at("series").fault("rules for the points, or at least one series", None)
    _every_function_has_its_rule(content, fields["reading_rules"])
    if top.is_angle:
        of_angles.require(content, top)
    return content


_REQUIRED = (
    *("format", "scope", "method", "looks", "zero", "reading_rules", "readable_parts", "repeats"),
    *("conditions", "references", "budget", "probability", "digits", "rounding", "rule"),
)
_OPTIONAL = (
    "points",
    "series",
    "cautions",
    "spread_limit_mm",
    "repeatability",
    "starting_values",
    "quantity",
)


def _quantity(top: Reader) -> str:
    """Read what is measured; a content that doesn't say measures lengths."""
    at = top.at("quantity")
    return str(Quantity.LENGTH) if at.value is None else at.choice(*Quantity)


def _load(text: str) -> Any:
    if len(text) > LONGEST_CONTENT:
        raise ContentNotJson(fault=f"it is longer than {LONGEST_CONTENT} characters")
    try:
        return json.loads(
            text, parse_float=Decimal, parse_constant=_no_constant, object_pairs_hook=_no_doubles
        )
    except json.JSONDecodeError as fault:
        raise ContentNotJson(fault=f"line {fault.lineno}, column {fault.colno}: {fault.msg}") from fault
    except (ValueError, RecursionError) as fault:
        raise ContentNotJson(fault=str(fault)) from fault


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is no number")


def _no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Refuse a field given twice, of which a plain parser would silently keep the last."""
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the field “{twice}” is given twice")
    return found


def _texts(fields: Mapping[str, Reader], name: str) -> tuple[str, ...]:
    return fields[name].list_of(Reader.text) if name in fields else ()


def _looks(reader: Reader) -> tuple[parts.Look, ...]:
    looks: list[parts.Look] = []
    for item in reader.items(least=1):
        look = _look(item)
        if look.code in {one.code for one in looks}:
            raise item.at("code").fault("a code used once")
        looks.append(look)
    return tuple(looks)


def _look(reader: Reader) -> parts.Look:
    fields = reader.fields(("code", "text"), ("caution", "only_for", "ends_job"))
    only_for = fields.get("only_for")
    return parts.Look(
        code=fields["code"].code(),
        text=fields["text"].text(),
        caution=fields["caution"].text(empty=True) if "caution" in fields else "",
        only_for=only_for.list_of(lambda item: item.choice(*parts.LOOK_SUBJECTS)) if only_for else (),
        ends_job=fields["ends_job"].truth() if "ends_job" in fields else False,
    )


def _zero(reader: Reader) -> parts.ZeroPolicy:
    fields = reader.fields(("fixed", "allowed_steps"), ("how", "text"))
    return parts.ZeroPolicy(
        fixed=fields["fixed"].truth(),
        allowed_steps=fields["allowed_steps"].whole(0, 10),
        how=fields["how"].choice(*parts.ZEROS) if "how" in fields else "faces",
        text=fields["text"].text(empty=True) if "text" in fields else "",
    )


def _points(reader: Reader) -> parts.PointRules:
    names = ("bands", "windows", "places", "longest_at", "low_share", "far_share", "small_bore_jaws")
    fields = reader.fields((*names, "phase", "stack_at_most", "order", "source", "confirmed"))
    return parts.PointRules(
        bands=common.bands(fields["bands"]),
        windows=_windows(fields["windows"]),
        places=_places(fields["places"], least=1),
        longest_at=_places(fields["longest_at"], least=1),
        low_share=fields["low_share"].decimal(0, 1, above=True),
        far_share=fields["far_share"].decimal(0, 1, above=True),
        small_bore_jaws=fields["small_bore_jaws"].list_of(lambda item: item.choice("knife-edges", "nibs")),
        phase=fields["phase"].choice("warning", "rule"),
        stack_at_most=fields["stack_at_most"].whole(1, 4),
        order=fields["order"].choice("set-up", "fixed"),
        source=fields["source"].text(),
        confirmed=fields["confirmed"].truth(),
    )


def _windows(reader: Reader) -> dict[str, Window]:
    single = tuple(name for name in parts.FUNCTIONS if name != "outside")
    return {name: common.window(item) for name, item in reader.fields((), single).items()}


def _places(reader: Reader, *, least: int) -> tuple[str, ...]:
    places: list[str] = []
    for item in reader.items(least=least):
        place = item.choice(*parts.PLACES)
        if place in places:
            raise item.fault("every place once")
        places.append(place)
    return tuple(places)


def _by_name(reader: Reader, known: Mapping[str, str]) -> dict[str, str]:
    return {name: item.text() for name, item in reader.fields((), tuple(known)).items()}


def _readable_parts(reader: Reader) -> dict[str, int]:
    return {name: item.whole(1, 10) for name, item in reader.fields((), parts.INDICATIONS).items()}


def _conditions(reader: Reader) -> parts.ConditionLimits:
    names = ("temperature_low_c", "temperature_high_c", "humidity_low", "humidity_high", "soak_minutes")
    fields = reader.fields(names)
    coldest = fields["temperature_low_c"].decimal(-10, 50)
    driest = fields["humidity_low"].decimal(0, 100)
    return parts.ConditionLimits(
        temperature_low_c=coldest,
        temperature_high_c=fields["temperature_high_c"].decimal(coldest, 50, above=True),
        humidity_low=driest,
        humidity_high=fields["humidity_high"].decimal(driest, 100, above=True),
        soak_minutes=fields["soak_minutes"].whole(0, 10_080),
    )


def _references(reader: Reader) -> parts.ReferenceNeeds:
    fields = reader.fields(("U_mm", "U_per_mm"), ("kinds",))
    return parts.ReferenceNeeds(
        U_mm=fields["U_mm"].decimal(0, 3600 if reader.is_angle else 1, above=True),
        U_per_mm=fields["U_per_mm"].decimal(0, Decimal("0.001")),
        kinds=_texts(fields, "kinds"),
    )


def _repeatability(reader: Reader | None) -> parts.Repeatability | None:
    if reader is None or reader.value is None:
        return None
    fields = reader.fields(("s_mm", "degrees_of_freedom"), ("source",))
    return parts.Repeatability(
        s_mm=fields["s_mm"].decimal(0, 3600 if reader.is_angle else 10),
        degrees_of_freedom=fields["degrees_of_freedom"].whole(1, 100_000),
        source=fields["source"].text(empty=True) if "source" in fields else "",
    )


def _rule(reader: Reader) -> dict[str, Any]:
    if not isinstance(reader.value, Mapping):
        raise reader.fault("a decision rule as an object")
    try:
        return Rule.from_json(reader.value).to_json()
    except BadRule as fault:
        place, expected, found = (fault.data[name] for name in ("place", "expected", "found"))
        raise reader.at(str(place)).fault(str(expected), found) from fault


def _budget(reader: Reader) -> tuple[Mapping[str, Any], ...]:
    specs: list[Spec] = []
    for item in reader.items(least=1):
        spec = _spec(item)
        if spec.name in {one.name for one in specs}:
            raise item.at("name").fault("every component named once")
        specs.append(spec)
    return tuple(spec_to_json(spec) for spec in specs)


def _spec(reader: Reader) -> Spec:
    try:
        return spec_from_json(reader.value, place=reader.place)
    except SpecUnreadable as fault:
        data = fault.data
        place = str(data["place"]).replace(", ", ".")
        raise Reader(data["found"], place).fault(str(data["expected"])) from fault


def _every_function_has_its_rule(content: parts.Content, reader: Reader) -> None:
    for name in ("outside", *content.points.windows) if content.points is not None else ():
        if name not in content.reading_rules:
            raise reader.at(name).fault("what counts as the reading of this function", None)


__all__ = ["ContentFault", "ContentNotJson", "parse"]
