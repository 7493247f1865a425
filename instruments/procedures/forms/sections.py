"""One form for each section of a procedure that is no list.

A field's name is the path of its value in the content with ``__`` for the point: ``zero__allowed_steps``.
May not live here: items of lists (items.py), acts (acts.py).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from typing import Any, ClassVar, Self

from django import forms
from django.forms import BoundField

from instruments.procedures.content import FUNCTIONS, INDICATIONS, PLACES, ZEROS, PointRules
from instruments.procedures.document.building import SUBJECTS
from instruments.procedures.document.parts import MILLION
from instruments.procedures.forms.fields import Boxes, Lines, Long, Number, at, initial_values, put, shown
from instruments.procedures.forms.of_angles import turn
from instruments.procedures.forms.series_lengths import band_table
from labsys.metrology.rules import RuleKind
from labsys.metrology.views import VIEW_WORDS, View


class ContentForm(forms.Form):
    """A part of a content: takes its initial values from it and puts the typed ones back.

    ``based_on`` is the hash of the content that was shown, so that nobody overwrites what they haven't seen.
    ``dropped_when_empty`` names fields whose place disappears where nothing was typed.
    """

    based_on = forms.CharField(widget=forms.HiddenInput, required=False)
    dropped_when_empty: ClassVar[tuple[str, ...]] = ()

    @classmethod
    def of(cls, stored: Mapping[str, Any], sha256: str, data: Any = None) -> Self:
        """Make the form for a stored content."""
        form = cls(data)
        form.initial = {**initial_values(form.content_fields(), stored), "based_on": sha256}
        turn(form, stored)
        return form

    def content_fields(self) -> Iterator[tuple[str, forms.Field]]:
        """Give the fields that hold content."""
        return ((name, field) for name, field in self.fields.items() if name != "based_on")

    def apply(self, stored: dict[str, Any]) -> dict[str, Any]:
        """Put the typed values into a stored content, and give it back."""
        for name, _field in self.content_fields():
            value = self.cleaned_data[name]
            put(stored, name, value)
            if name in self.dropped_when_empty and value in (None, "", []):
                parent, _, last = name.rpartition("__")
                at(stored, parent).pop(last)
        return stored

    def groups(self) -> list[tuple[str, list[BoundField]]]:
        """Give the fields to show, in groups with a heading each; one group without a heading unless overridden."""
        return [("", self.visible_fields())]


class ScopeForm(ContentForm):
    """What the procedure is for, what it follows, its cautions, what is not confirmed."""

    scope = Long(label="Gauges it is for")
    method = Lines(label="Documents followed, with edition", rows=6)
    cautions = Lines(label="Cautions", rows=6, required=False)
    starting_values = Lines(
        label="Starting values that nobody has confirmed", rows=5, required=False,
        help_text="One on each line. Empty once everything is confirmed.",
    )  # fmt: skip


class ReadingForm(ContentForm):
    """The zero, what counts as a reading, how many."""

    dropped_when_empty = (
        *(f"reading_rules__{name}" for name in FUNCTIONS),
        *(f"readable_parts__{name}" for name in INDICATIONS),
    )

    zero__how = forms.ChoiceField(
        label="What the zero is read on", choices=tuple(ZEROS.items()), initial="faces"
    )
    zero__text = Long(
        label="What to do for the zero",
        required=False,
        help_text="Where the usual words don't say it: closing the faces, or what was chosen above.",
    )
    zero__fixed = forms.BooleanField(
        label="The zero can't be set; as found it counts as an error", required=False
    )
    zero__allowed_steps = forms.IntegerField(label="Steps the closing zero may be off", min_value=0)
    repeats = forms.IntegerField(label="Readings at each point", min_value=1)
    spread_limit_mm = Number(
        label="Largest spread of repeats (mm)",
        required=False,
        help_text="Empty: half the width of the limits.",
    )
    reading_rules__outside = Long(label="What counts as the reading, outside", required=False)
    reading_rules__inside = Long(label="What counts as the reading, inside", required=False)
    reading_rules__depth = Long(label="What counts as the reading, depth", required=False)
    reading_rules__step = Long(label="What counts as the reading, step", required=False)
    reading_rules__small_bore = Long(label="What counts as the reading, small bore", required=False)
    readable_parts__digital = forms.IntegerField(
        label="Parts of a step read, digital", min_value=1, required=False
    )
    readable_parts__dial = forms.IntegerField(
        label="Parts of a division read, dial", min_value=1, required=False
    )
    readable_parts__vernier = forms.IntegerField(
        label="Parts of a step read, vernier", min_value=1, required=False
    )


_PLACES = tuple(PLACES.items())


class PointsForm(ContentForm):
    """How the outside points are spread and what makes them."""

    @classmethod
    def of(cls, stored: Mapping[str, Any], sha256: str, data: Any = None) -> Self:
        """Make the form; a content without these rules is asked what they begin with as well."""
        begins = stored.get("points") is None and not issubclass(cls, PointsStartForm)
        return PointsStartForm.of(stored, sha256, data) if begins else super().of(stored, sha256, data)  # type: ignore[return-value]

    points__source = Long(label="Where the numbers of points come from")
    points__confirmed = forms.BooleanField(
        label="The laboratory has confirmed them against its own copy of the source", required=False
    )
    points__low_share = Number(label="One point within the lowest part of the range (%)", times=100)
    points__far_share = Number(label="One point at this part of the range or beyond (%)", times=100)
    points__places = Boxes(label="Places on the faces that must occur", choices=_PLACES)
    points__longest_at = Boxes(label="Places at which the longest is proposed", choices=_PLACES)
    points__small_bore_jaws = Boxes(
        label="Inside jaws that are measured in a small bore", choices=tuple(SUBJECTS.items()), required=False
    )
    points__phase = forms.ChoiceField(
        label="Lengths all at one phase of the scale",
        choices=(("warning", "warn"), ("rule", "hold up submission")),
    )
    points__stack_at_most = forms.IntegerField(label="Most blocks in a stack", min_value=1, max_value=4)
    points__order = forms.ChoiceField(
        label="Order", choices=(("set-up", "by set-up"), ("fixed", "as the procedure gives it"))
    )


class PointsStartForm(PointsForm):
    """The rules over range and faces where there are none yet, with their bands and what an outside reading is."""

    reading_rules__outside = Long(label="What counts as the reading, outside")
    points__bands = band_table()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        starts = {one.name: one.default for one in dataclasses.fields(PointRules)}
        for name, field in self.content_fields():
            start = starts.get(name.removeprefix("points__"), dataclasses.MISSING)
            if start is not dataclasses.MISSING:
                field.initial = shown(field, start)

    def apply(self, stored: dict[str, Any]) -> dict[str, Any]:
        """Put the rules in; no function besides outside gets a point yet."""
        applied = super().apply(stored)
        applied["points"]["windows"] = {}
        return applied


class WindowsForm(ContentForm):
    """Where the one point of each other function has to lie; a function without lengths gets no point."""

    SINGLE: ClassVar[tuple[str, ...]] = tuple(name for name in FUNCTIONS if name != "outside")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.SINGLE:
            path = f"points__windows__{name}"
            self.fields[f"{path}__from_mm"] = Number(label="From (mm)", required=False)
            self.fields[f"{path}__to_mm"] = Number(label="To (mm)", required=False)
            self.fields[f"{path}__below"] = forms.BooleanField(
                label="The upper end itself is out", required=False
            )
            self.fields[f"{path}__prefer_mm"] = Number(label="Propose nearest to (mm)", required=False)

    def apply(self, stored: dict[str, Any]) -> dict[str, Any]:
        """Put the windows in; a function of which nothing was typed loses its own."""
        applied = super().apply(stored)
        windows = applied["points"]["windows"]
        for name in self.SINGLE:
            if windows[name]["from_mm"] is None and windows[name]["to_mm"] is None:
                del windows[name]
        return applied

    def groups(self) -> list[tuple[str, list[BoundField]]]:
        """Give the fields function by function."""
        return [
            (FUNCTIONS[name].capitalize(), [self[f"points__windows__{name}__{field}"] for field in _WINDOW])
            for name in self.SINGLE
        ]


_WINDOW = ("from_mm", "to_mm", "below", "prefer_mm")


class ConditionsForm(ContentForm):
    """What the room must be like and how good a standard must be."""

    conditions__temperature_low_c = Number(label="Temperature from (°C)")
    conditions__temperature_high_c = Number(label="Temperature to (°C)")
    conditions__humidity_low = Number(label="Relative humidity from (%)")
    conditions__humidity_high = Number(label="Relative humidity to (%)")
    conditions__soak_minutes = forms.IntegerField(label="Soak time (min)", min_value=0)
    references__U_mm = Number(label="Largest U of a standard (mm, k = 2)")
    references__U_per_mm = Number(label="and growing with its length by (µm/m)", times=MILLION)
    references__kinds = Lines(label="Standards to use", required=False)


class CoverageForm(ContentForm):
    """The repeatability study, and how U is expanded and reported."""

    repeatability__s_mm = Number(
        label="Pooled repeatability s (mm)", required=False, help_text="Empty: no study."
    )
    repeatability__degrees_of_freedom = forms.IntegerField(
        label="Its degrees of freedom", min_value=1, required=False
    )
    repeatability__source = Long(label="Where it comes from", required=False)
    probability = Number(label="Coverage probability (%)", times=100)
    digits = forms.TypedChoiceField(
        label="Significant digits of the reported U", choices=((1, "one"), (2, "two")), coerce=int
    )
    rounding = forms.ChoiceField(
        label="Rounding", choices=(("half-even", "half to even"), ("half-up", "half up"))
    )

    def apply(self, stored: dict[str, Any]) -> dict[str, Any]:
        """Put the values in; without s and degrees of freedom there is no study."""
        applied = super().apply(stored)
        study = applied["repeatability"]
        if study["s_mm"] is None and study["degrees_of_freedom"] is None:
            applied["repeatability"] = None
        return applied


class RuleForm(ContentForm):
    """The decision rule that holds where nothing else is agreed."""

    KINDS: ClassVar[tuple[tuple[str, str], ...]] = (
        (RuleKind.SIMPLE.value, "simple acceptance, while the accuracy ratio is large enough"),
        (RuleKind.GUARDED.value, "guarded acceptance, guard w = g · U"),
        (RuleKind.SPECIFIC_RISK.value, "acceptance with a largest false-accept probability"),
        (RuleKind.PROVE.value, "conformance or non-conformance is to be proven"),
        (RuleKind.FOUR_WAY.value, "four-way statement"),
        (RuleKind.PRESCRIBED.value, "as the specification prescribes, U reported only"),
    )
    PARAMETERS: ClassVar[dict[str, str]] = {
        RuleKind.SIMPLE.value: "min_ratio",
        RuleKind.SPECIFIC_RISK.value: "max_false_accept",
        RuleKind.PRESCRIBED.value: "document",
    }

    rule__kind = forms.ChoiceField(label="Rule", choices=KINDS)
    rule__view = forms.ChoiceField(
        label="Uncertainty it uses", choices=tuple((view.value, VIEW_WORDS[view]) for view in View)
    )
    rule__min_ratio = Number(
        label="Smallest accuracy ratio",
        required=False,
        help_text="Simple acceptance only. Empty: no ratio is asked.",
    )
    rule__g = Number(
        label="Guard as a multiple g of U", required=False, help_text="Guarded, proven and four-way."
    )
    rule__max_false_accept = Number(
        label="Largest false-accept probability", required=False, help_text="For that rule only, at most 0.5."
    )
    rule__document = forms.CharField(
        label="Prescribed by",
        max_length=200,
        required=False,
        help_text="For that rule only: the specification with edition and clause.",
    )

    def apply(self, stored: dict[str, Any]) -> dict[str, Any]:
        """Put the rule in with the parameter that belongs to its kind, and no other."""
        given = self.cleaned_data
        parameter = self.PARAMETERS.get(given["rule__kind"], "g")
        value = given[f"rule__{parameter}"]
        rule = {"kind": given["rule__kind"], "view": given["rule__view"], parameter: value}
        # A missing ratio is a decision; a missing guard or risk is a mistake that reading the content names.
        return {**stored, "rule": rule}


SECTIONS: dict[str, type[ContentForm]] = {
    "scope": ScopeForm,
    "reading": ReadingForm,
    "points": PointsForm,
    "windows": WindowsForm,
    "conditions": ConditionsForm,
    "coverage": CoverageForm,
    "rule": RuleForm,
}
