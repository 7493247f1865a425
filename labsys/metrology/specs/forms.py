"""How the components of a procedure are stored: one JSON object each, numbers as strings.

Lives here: the form and what is wrong with a bad one. May not live here: what a kind means (the kinds).

{"kind": "geometry", "name": "jaws", "source": "accepted parallelism", "half_width_mm": "0.005"}

``kind``, ``name`` and the kind's own sizes are required; ``source`` and fields with a usual value may be left
out. Sizes are plain numbers or strings of numbers, zero or more; ``nu`` may be ``"inf"``; ``distribution`` is
normal, rectangular, triangular, arcsine or student; ``views`` is a list of *calibration*, *test_value* and replaces
the usual ones of the kind.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, Field, fields
from typing import Any

from labsys.errors import LabError
from labsys.metrology.components import Distribution
from labsys.metrology.specs.base import Spec
from labsys.metrology.specs.general import Abbe, Constant, Geometry, Proportional
from labsys.metrology.specs.geometry import Alignment, Contact, Parallelism
from labsys.metrology.specs.reading import Reading, Zero
from labsys.metrology.specs.standards import Drift, StandardValue, Wringing
from labsys.metrology.specs.temperature import ExpansionDifference, TemperatureDifference
from labsys.metrology.views import View

KINDS: dict[str, type[Spec]] = {
    kind.kind: kind
    for kind in (
        Constant,
        Proportional,
        StandardValue,
        Drift,
        Wringing,
        Reading,
        Zero,
        TemperatureDifference,
        ExpansionDifference,
        Geometry,
        Abbe,
        Parallelism,
        Alignment,
        Contact,
    )
}
SHAPES = (
    Distribution.NORMAL,
    Distribution.RECTANGULAR,
    Distribution.TRIANGULAR,
    Distribution.ARCSINE,
    Distribution.STUDENT,
)
"""What a kind may be told to be: no trapezoid, which has a β no kind asks for, and no product."""


class SpecUnreadable(LabError, ValueError):
    """A stored component with an unknown kind or field, or a value that can't be one."""

    code = "spec-unreadable"
    field = "content"
    sentence = (
        "Uncertainty budget, {place}: expected {expected}, found {found!r}. Correct the procedure's revision."
    )


def specs_to_json(specs: Iterable[Spec]) -> list[dict[str, Any]]:
    """Give the stored form of all components, in order."""
    return [spec_to_json(spec) for spec in specs]


def specs_from_json(stored: Iterable[Any]) -> tuple[Spec, ...]:
    """Read all components, in order; raises SpecUnreadable naming the component by its number."""
    return tuple(
        spec_from_json(one, place=f"component {number}") for number, one in enumerate(stored, start=1)
    )


def spec_to_json(spec: Spec) -> dict[str, Any]:
    """Give the stored form of one component; what has its usual value is left out."""
    stored: dict[str, Any] = {"kind": spec.kind}
    for field in fields(spec):
        value = getattr(spec, field.name)
        if field.default is MISSING or value != field.default:
            stored[field.name] = _written(value)
    return stored


def spec_from_json(stored: Any, *, place: str = "component") -> Spec:
    """Read one component; raises SpecUnreadable naming ``place`` and the field."""
    if not isinstance(stored, Mapping):
        raise SpecUnreadable(place=place, expected="an object", found=stored)
    kind = KINDS.get(str(stored.get("kind")))
    if kind is None:
        raise SpecUnreadable(
            place=f"{place}, kind", expected="one of " + ", ".join(KINDS), found=stored.get("kind")
        )
    known = {field.name: field for field in fields(kind)}
    for name in stored:
        if name != "kind" and name not in known:
            raise SpecUnreadable(
                place=f"{place}, {name}", expected=f"a field of {kind.kind}", found=stored[name]
            )
    return kind(**_read_all(stored, known, place))


def _read_all(stored: Mapping[str, Any], known: Mapping[str, Field[Any]], place: str) -> dict[str, Any]:
    values = {}
    for name, field in known.items():
        if name in stored:
            values[name] = _read(name, stored[name], f"{place}, {name}")
        elif field.default is MISSING:
            raise SpecUnreadable(place=f"{place}, {name}", expected="a value", found=None)
    return values


def _read(name: str, value: Any, place: str) -> Any:
    if name in ("name", "source"):
        return _text(value, place, may_be_empty=name == "source")
    if name == "views":
        return _views(value, place)
    if name == "distribution":
        if value not in SHAPES:
            raise SpecUnreadable(place=place, expected="one of " + ", ".join(SHAPES), found=value)
        return Distribution(value)
    return _number(value, place, least=1.0 if name == "nu" else 0.0, may_be_infinite=name == "nu")


def _text(value: Any, place: str, *, may_be_empty: bool) -> str:
    if not isinstance(value, str) or not (value.strip() or may_be_empty):
        raise SpecUnreadable(place=place, expected="a text", found=value)
    return value


def _views(value: Any, place: str) -> frozenset[View]:
    words = [view.value for view in View]
    if not isinstance(value, list) or not value or any(one not in words for one in value):
        raise SpecUnreadable(place=place, expected="a list of " + ", ".join(words), found=value)
    return frozenset(View(one) for one in value)


def _number(value: Any, place: str, *, least: float, may_be_infinite: bool) -> float:
    try:
        number = math.nan if isinstance(value, bool) else float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not number >= least or (math.isinf(number) and not may_be_infinite):
        raise SpecUnreadable(place=place, expected=f"a number of at least {least:g}", found=value)
    return number


def _written(value: Any) -> Any:
    if isinstance(value, frozenset):
        return sorted(view.value for view in value)
    if isinstance(value, Distribution):
        return value.value
    return value if isinstance(value, str) else repr(float(value))
