"""The form of one series: what is measured, where, with what, how it is read, which results come of it.

May not live here: the ways of saying where lengths lie (series_lengths.py), components of its budget (items.py).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.forms import BoundField

from instruments.procedures.content.series import DIRECTIONS, READS, RESULTS
from instruments.procedures.forms.drawings import Drawing
from instruments.procedures.forms.fields import Boxes, Lines, Long, Number
from instruments.procedures.forms.items import ItemForm
from instruments.procedures.forms.rows import Column, Rows
from instruments.procedures.forms.series_lengths import (
    PREFIX,
    WAYS,
    WaySelect,
    amiss,
    way_fields,
    with_starts,
)
from labsys.laboratory.models import CHARACTERISTICS, MeasuringFunction
from labsys.metrology.characteristics import ORDERS
from labsys.metrology.units import Unit

_LONGEST_BAND_MM = Decimal("0.001")
_LEFT_TO_THE_CONTENT = ("code", "within_mm", "most_blocks", "repeats")
"""What takes its usual value where nothing was typed."""


class PlaceLines(Lines):
    """Places, one on each line, written as codes: ``Entry / 90°`` is taken as ``entry/90``."""

    def clean(self, value: Any) -> list[str]:
        """Read the places as codes."""
        return [_as_place(line) for line in super().clean(value)]


class DirectionChoice(forms.ChoiceField):
    """The directions a series is read in, one after the other."""

    def shown(self, stored: Any) -> str:
        """Write the stored list as one choice."""
        return " ".join(stored)

    def clean(self, value: Any) -> list[str]:
        """Read the choice as a list."""
        return str(super().clean(value)).split()


def _as_place(line: str) -> str:
    tight = re.sub(r"\s*([/-])\s*", r"\1", line.lower().replace("°", " ").strip())
    return re.sub(r"\s+", "_", tight)


def code_of(name: str, taken: set[str]) -> str:
    """Make a code of a name: lower-case letters, digits and underscores, at most 20, not one of those taken."""
    words = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
    base = (words if words[:1].isalpha() else f"series_{words}")[:20].strip("_")
    tries = (base, *(f"{base[:17]}_{number}" for number in range(2, 1000)))
    return next(one for one in tries if one not in taken)


def _results() -> Rows:
    kinds = [("", "–"), *((kind, words) for kind, words in RESULTS.items())]
    limits = [("", "–"), *((limit, words) for limit, words in CHARACTERISTICS.items())]
    ways = [("", "both"), *DIRECTIONS.items()]
    columns = (
        Column("kind", forms.ChoiceField(label="Result", choices=kinds), is_wide=True),
        Column("limit", forms.ChoiceField(label="Line of limits", choices=limits), is_wide=True),
        Column("name", forms.CharField(label="Name", max_length=200, required=False), is_wide=True),
        Column("direction", forms.ChoiceField(label="Of a span", choices=ways, required=False)),
        Column("within_mm", Number(label="Section (mm)", required=False)),
        Column("within_in", Number(label="Section, gauges in inches (in)", required=False)),
    )
    return Rows(
        columns,
        row_name="result",
        missing="Say at least one result: what is judged, and by which line of limits.",
        label="Results",
        help_text="The line of limits is the one of the gauge's model that judges it. Without a name the result is "
        "called by its kind. The direction is for a span alone, the section for one over a short section. "
        "An emptied row is removed.",
    )


class SeriesForm(ItemForm):
    """One series of a procedure."""

    named = "series"
    can_redraw = True
    GROUPS: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = (
        ("What is measured", ("name", "code", "needs", "caution")),
        ("Where", (PREFIX, "places", "each_place", "directions")),
        (
            "What is read, and against what",
            ("reads", "serves", "within_mm", "most_blocks", "band_mm", "on__unit", "on__step"),
        ),
        ("What counts as the reading", ("reading_rule", "order", "repeats", "spread_limit_mm")),
        ("Drawing at the bench", ("sketch",)),
        ("What comes of it", ("results",)),
        ("Uncertainty budget", ("budget_from", "budget_takes")),
    )

    name = forms.CharField(label="Name", max_length=200, help_text="As it stands at the bench: Length.")
    code = forms.CharField(
        label="Short name",
        max_length=20,
        required=False,
        help_text="Lower-case letters, digits and underscores: flatness_anvil. Empty: made of the name.",
    )
    needs = forms.ChoiceField(
        label="Only for gauges that measure",
        required=False,
        choices=[("", "anything: every gauge"), *MeasuringFunction.choices],
    )
    caution = Long(label="Caution", required=False, rows=2)
    lengths__kind = forms.ChoiceField(
        label="Where the lengths lie", widget=WaySelect, choices=[(kind, way.words) for kind, way in WAYS.items()]
    )  # fmt: skip
    lengths__shown = forms.CharField(widget=forms.HiddenInput, required=False)
    places = PlaceLines(
        rows=6,
        label="Places at a length",
        required=False,
        help_text="One on each line, none where there is only one. <b>middle</b>, <b>centre</b> or another word is a "
        "place by its name; <b>edge-90</b> is the edge of a face at 90°; <b>corner-1</b> the first corner; "
        "<b>entry/90</b> the section “entry” across at 90°, for results over sections and directions.",
    )
    each_place = forms.BooleanField(
        label="All of these places at every length; otherwise one after the other in turn", required=False
    )
    directions = DirectionChoice(
        label="Directions",
        required=False,
        choices=[("", "no direction"), ("up", "going up"), ("up down", "going up, then coming down")],
    )
    reads = forms.ChoiceField(
        label="What is read", choices=list(READS.items()), widget=forms.Select(attrs={"class": "wide"})
    )
    serves = forms.ChoiceField(
        label="Reference: an element that serves",
        required=False,
        choices=[("", "nothing: no reference is compared with"), *MeasuringFunction.choices],
    )
    within_mm = Number(
        label="How far the reference may lie from the length (mm)",
        required=False,
        initial="0.1",
        help_text="Where a difference is read.",
    )
    most_blocks = forms.IntegerField(
        label="Most blocks in a stack", min_value=1, max_value=4, required=False, initial=4
    )
    band_mm = Number(
        label="Half the wavelength of the light (µm)",
        times=1000,
        required=False,
        help_text="Where bands are counted.",
    )
    on__unit = forms.ChoiceField(
        label="Scale that is read",
        required=False,
        choices=[("", "the gauge's own"), *((unit.value, f"another one, in {unit.value}") for unit in Unit)],
    )
    on__step = Number(label="Its step, in its unit", required=False)
    reading_rule = Long(label="What to do, and what counts as the reading", rows=4)
    order = forms.ChoiceField(
        label="Reference and gauge in turn",
        required=False,
        choices=[("", "the difference alone"), *((order, ", ".join(order)) for order in ORDERS)],
        help_text="R the reference, G the gauge: a steady drift of the comparator falls out. Each round is a repeat.",
    )
    repeats = forms.IntegerField(
        label="Readings at each point", min_value=1, max_value=20, required=False, initial=1
    )
    spread_limit_mm = Number(
        label="Largest spread of repeats (mm)", required=False, help_text="Empty: half the width of the limits."
    )  # fmt: skip
    sketch = Drawing(label="Drawing")
    results = _results()
    budget_from = forms.ChoiceField(
        label="Components",
        widget=forms.RadioSelect,
        initial="procedure",
        choices=(("procedure", "those of the procedure"), ("own", "its own")),
    )

    def prepare(self, item: Mapping[str, Any]) -> None:
        """Ask what the chosen way of lengths needs, and what a budget of its own begins with."""
        self.own_code = item.get("code")
        self.words = f"“{item['name']}”" if item else ""
        self.own_budget = item.get("budget")
        way = (self.data if self.is_bound else {"lengths__kind": (item.get("lengths") or {}).get("kind")}).get(
            "lengths__kind"
        )  # fmt: skip
        self.way = way if way in WAYS else next(iter(WAYS))
        asked = way_fields(self.way)
        self.fields.update(asked)
        self.fields["lengths__shown"].initial = self.way
        if self.is_bound and self.data.get("lengths__shown") != self.way:
            self.data = with_starts(self.data, asked, self.way)
        self.fields["budget_from"].initial = "own" if self.own_budget else "procedure"
        if self.own_budget:
            self.fields[
                "budget_from"
            ].help_text = "Its components stand on the revision's page, each with its link."
        else:
            self._offer_components()

    def _offer_components(self) -> None:
        names = [component["name"] for component in self.content["budget"]]
        self.fields["budget_takes"] = Boxes(
            label="Its own begins with these of the procedure",
            choices=[(name, name) for name in names],
            required=False,
            help_text="Only where it is its own. Components are changed, added and removed on the revision's page "
            "afterwards.",
        )
        self.fields["budget_takes"].initial = names

    def groups(self) -> list[tuple[str, list[BoundField]]]:
        """Give the fields in the order in which a series is thought of."""
        return [(legend, [self[name] for name in self._named(names)]) for legend, names in self.GROUPS]

    def _named(self, names: tuple[str, ...]) -> list[str]:
        """Give the names there are, those of the way of lengths where its beginning stands."""
        hidden = "lengths__shown"
        ways = [name for name in self.fields if name.startswith(PREFIX) and name != hidden]
        found = [one for name in names for one in (ways if name == PREFIX else [name])]
        return [name for name in found if name in self.fields]

    def clean(self) -> dict[str, Any]:
        """Find what the content couldn't name as well: units of the form, codes of other series, an empty budget."""
        given: dict[str, Any] = super().clean() or {}
        fault = amiss(given)
        if fault is not None:
            self.add_error(*fault)
        band = given.get("band_mm")
        if band is not None and not 0 < Decimal(band) <= _LONGEST_BAND_MM:
            self.add_error("band_mm", "Expected half the wavelength in µm, above 0 to 1: 0.29.")
        if given.get("on__step") is not None and not given.get("on__unit"):
            self.add_error("on__unit", "Expected the unit of the step, or no step for the gauge's own scale.")
        if given.get("budget_from") == "own" and not self.own_budget and not given.get("budget_takes"):
            self.add_error("budget_takes", "Tick at least one component: a budget begins with one.")
        self._settle_code(given)
        return given

    def _settle_code(self, given: dict[str, Any]) -> None:
        taken = {one["code"] for one in self.content.get("series") or ()} - {self.own_code}
        if given.get("code") in taken:
            self.add_error("code", "Expected a short name used once; another series has this one.")
        elif not given.get("code") and given.get("name") and "code" not in self.errors:
            given["code"] = code_of(given["name"], taken)

    def part(self, of_list: str) -> str:
        """Name the part of the page that shows this series."""
        return f"series-{self.cleaned_data['code']}"

    def item(self) -> dict[str, Any]:
        """Give the series as it is stored."""
        found = super().item()
        del found["lengths"]["shown"]
        found["on"] = found["on"] if found["on"]["unit"] else None
        own, takes = found.pop("budget_from") == "own", found.pop("budget_takes", ())
        begun = self.own_budget or [one for one in self.content["budget"] if one["name"] in takes]
        found["budget"] = begun if own else None
        return {
            name: value
            for name, value in found.items()
            if value is not None or name not in _LEFT_TO_THE_CONTENT
        }
