"""Where the lengths of a series lie: the ways of saying it, each with the fields it asks.

May not live here: the rest of a series (series.py).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from instruments.procedures.forms.fields import Lengths, Number
from instruments.procedures.forms.rows import Column, Rows

PREFIX = "lengths__"


class WaySelect(forms.Select):
    """The choice of a way, with a button that shows what the chosen one asks."""

    template_name = "instruments/procedures/way.html"


@dataclass(frozen=True, slots=True)
class Way:
    """One way of saying where lengths lie, in words, and the fields it asks; what its lists are called is in them."""

    words: str
    fields: Callable[[], dict[str, forms.Field]] = dict


def band_table(*, missing: str = "") -> Rows:
    """Make the table of bands: how many points measuring ranges up to a limit get, and which lengths first."""
    columns = (
        Column("range_up_to_mm", Number(label="Ranges up to (mm)")),
        Column("least_points", forms.IntegerField(label="Points at least", min_value=1)),
        Column("lengths_mm", Lengths(label="Lengths, gauges in mm"), is_wide=True),
        Column("lengths_in", Lengths(label="Lengths, gauges in inches"), is_wide=True),
    )
    said = missing or "Say for at least one measuring range how many points it gets."
    return Rows(
        columns,
        row_name="range",
        missing=said,
        label="Points by measuring range",
        help_text="Ascending; the last one holds beyond itself. The lengths are those to "
        "propose first, semicolons between them; there may be none.",
    )


def _both_units() -> dict[str, forms.Field]:
    return {
        "mm": Lengths(label="Lengths of gauges in millimetres (mm)"),
        "inch": Lengths(label="Lengths of gauges in inches (in)", help_text="0.1; 0.25; 1"),
    }


def _from_low() -> dict[str, forms.Field]:
    low = forms.BooleanField(
        label="The low end itself is a point too, unless the range begins at nothing",
        required=False,
        initial=True,
    )
    return {**_both_units(), "with_low": low}


def _spread() -> dict[str, forms.Field]:
    return {
        "bands": band_table(),
        "low_share": Number(
            label="One point within the lowest part of the range (%)",
            times=100,
            initial="33.4",
        ),
        "far_share": Number(
            label="One point at this part of the range or beyond (%)", times=100, initial="90"
        ),
    }


def _segments() -> dict[str, forms.Field]:
    in_mm = (
        Column("up_to_mm", Number(label="Up to (mm)")),
        Column("every_mm", Number(label="every (mm)")),
    )
    in_inches = (
        Column("up_to_in", Number(label="Up to (in)")),
        Column("every_in", Number(label="every (in)")),
    )
    return {
        "parts": Rows(
            in_mm,
            row_name="stretch",
            missing="Say at least one stretch and how close it is read.",
            label="Stretches of the travel",
            help_text="Ascending, from nothing on; what lies beyond the gauge's range is left out.",
        ),
        "inch_parts": Rows(
            in_inches,
            row_name="stretch of gauges in inches",
            required=False,
            label="Stretches of the travel, gauges in inches",
            help_text="As those in millimetres; where there are none, gauges in inches are read at those.",
        ),
    }


def _shares() -> dict[str, forms.Field]:
    help_text = "Semicolons between them, ascending, 0 to 100: 0; 10; 50; 100."
    return {"of_range": Lengths(label="Shares of the measuring range (%)", times=100, help_text=help_text)}


def _window() -> dict[str, forms.Field]:
    return {
        "window__from_mm": Number(label="From (mm)"),
        "window__to_mm": Number(label="To (mm)"),
        "window__below": forms.BooleanField(label="The upper end itself is out", required=False),
        "window__prefer_mm": Number(label="Propose nearest to (mm)", required=False),
    }


def _member() -> dict[str, forms.Field]:
    return {
        "label": forms.CharField(
            label="Label of the member", max_length=40, help_text="As the gauge's record has it: GO."
        )
    }


WAYS: dict[str, Way] = {
    "list": Way("a list of lengths, those beyond the gauge's range left out", _both_units),
    "from-low": Way("a list of lengths counted from the low end of the range", _from_low),
    "spread": Way("spread over the range, more points for longer ranges", _spread),
    "segments": Way("stretches of the travel, close at first and wider later", _segments),
    "shares": Way("shares of the measuring range", _shares),
    "window": Way("one length within a window", _window),
    "nominal": Way("the gauge's own size"),
    "member": Way("the size of one member, such as the GO end", _member),
    "members": Way("the size of every member: pins, blocks, leaves", dict),
    "none": Way("no length: the flatness of a face, a fit"),
}


def way_fields(kind: str) -> dict[str, forms.Field]:
    """Give the fields of a way, by their names in a form."""
    return {f"{PREFIX}{name}": field for name, field in WAYS[kind].fields().items()}


def with_starts(data: Any, fields: Mapping[str, forms.Field], kind: str) -> Any:
    """Give sent data with the starts of a way's fields, which were not on the page it was sent from."""
    filled = data.copy()
    filled[f"{PREFIX}shown"] = kind
    for name, field in fields.items():
        if field.initial and name not in filled:
            filled[name] = "on" if field.initial is True else field.initial
    return filled


def amiss(cleaned: Mapping[str, Any]) -> tuple[str, str] | None:
    """Find what the content would refuse in other units than the form's, or take for granted: field and sentence."""
    lists = [f"{PREFIX}mm", f"{PREFIX}inch"]
    if lists[0] in cleaned and lists[1] in cleaned and not any(cleaned[name] for name in lists):
        return lists[0], "Expected at least one length, in millimetres or in inches."
    shares = cleaned.get(f"{PREFIX}of_range")
    if shares is not None and (not shares or any(not 0 <= float(share) <= 1 for share in shares)):
        return f"{PREFIX}of_range", "Expected shares from 0 to 100 %, rising, at least one."
    return None
