"""One form for each kind of item in the lists of a procedure: a look, a band of ranges, a budget component.

May not live here: series (series.py), which lists there are (lists.py), sections that are no list (sections.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar, Self

from django import forms
from django.forms.utils import ErrorDict

from instruments.procedures.content import FUNCTIONS, INDICATIONS
from instruments.procedures.document.budget import KINDS
from instruments.procedures.document.building import SUBJECTS
from instruments.procedures.forms.fields import Boxes, Lengths, Long, Number, initial_values, put
from instruments.procedures.forms.of_angles import turn
from labsys.metrology.specs import SHAPES
from labsys.metrology.views import VIEW_WORDS, View


class ItemForm(forms.Form):
    """One item of a list, ``named`` as one is called; ``content`` is what it is an item of.

    A field's name is the path of its value in the item with ``__`` for the point: ``on__step``.
    """

    named: ClassVar[str]
    can_move: ClassVar[bool] = True
    can_redraw: ClassVar[bool] = False

    based_on = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self, data: Any = None, *, item: Mapping[str, Any], sha256: str, content: Mapping[str, Any]
    ) -> None:
        super().__init__(data)
        self.content = content
        self.prepare(item)
        self.initial = {**initial_values(self.fields.items(), item), "based_on": sha256}
        turn(self, content)

    def prepare(self, item: Mapping[str, Any]) -> None:
        """Make the fields that depend on the item."""

    def item(self) -> dict[str, Any]:
        """Give the item as it is stored."""
        found: dict[str, Any] = {}
        for name, value in self.cleaned_data.items():
            if name != "based_on":
                put(found, name, value)
        return found

    def part(self, of_list: str) -> str:
        """Name the part of the page to go back to; that of the list unless the item has its own."""
        return of_list

    def redrawn(self) -> Self:
        """Give the form with what was typed, not judged yet: only what it asks has changed."""
        self._errors = ErrorDict()
        return self

    @classmethod
    def ordered(cls, items: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """Give the items in the order in which they are stored."""
        return items


class LookForm(ItemForm):
    """Something looked at or tried before measuring."""

    named = "look"

    code = forms.CharField(
        label="Short name", max_length=40, help_text="Lower-case words joined by hyphens: outside-faces."
    )
    text = Long(label="What to look at, and when it is good", rows=4)
    caution = Long(label="Caution", required=False, rows=2)
    only_for = Boxes(
        label="Only for gauges with",
        required=False,
        choices=(*FUNCTIONS.items(), *((name, name) for name in INDICATIONS), *SUBJECTS.items()),
        help_text="None ticked: every gauge.",
    )
    ends_job = forms.BooleanField(
        label="Where it is not good, the gauge is rejected without measuring", required=False
    )


class BandForm(ItemForm):
    """How many outside points measuring ranges up to a limit get, and which lengths are proposed."""

    named = "range"
    can_move = False

    range_up_to_mm = Number(label="Measuring ranges up to (mm)")
    least_points = forms.IntegerField(label="Outside points at least", min_value=1)
    lengths_mm = Lengths(label="Lengths proposed, gauges in millimetres (mm)")
    lengths_in = Lengths(label="Lengths proposed, gauges in inches (in)")

    @classmethod
    def ordered(cls, items: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """Give the bands by their range, which is how they are looked up."""
        return sorted(items, key=_reach)


def _reach(band: Mapping[str, Any]) -> Decimal:
    try:
        return Decimal(str(band.get("range_up_to_mm")))
    except InvalidOperation:
        return Decimal("Infinity")


class ComponentForm(ItemForm):
    """One component of the uncertainty budget; its fields follow its kind."""

    named = "component"

    name = forms.CharField(label="Name", max_length=200)
    source = Long(label="Where the size comes from", required=False)

    def prepare(self, item: Mapping[str, Any]) -> None:
        """Ask for the sizes of the kind; a kind with a free distribution asks for that too."""
        self.kind = str(item["kind"])
        kind = KINDS[self.kind]
        self.words = kind.words
        for size in kind.sizes:
            self.fields[size.field] = Number(
                label=f"{size.label}, {size.unit}", required=not size.optional, times=size.times
            )
        if kind.distribution:
            shapes = [("", "as usual for this kind")]
            shapes += [(one.value, one.value) for one in SHAPES]
            self.fields["distribution"] = forms.ChoiceField(
                label="Distribution", choices=shapes, required=False
            )
        if self.kind in ("constant", "proportional"):
            self.fields["nu"] = Number(
                label="Degrees of freedom", required=False, help_text="Empty: infinite."
            )
        self.fields["views"] = Boxes(
            label="Enters",
            choices=[(view.value, VIEW_WORDS[view]) for view in View],
            required=False,
            help_text="None ticked: as usual for this kind.",
        )

    def item(self) -> dict[str, Any]:
        """Give the component as it is stored: what was left empty takes its usual value."""
        given = {name: value for name, value in super().item().items() if value not in (None, "", [])}
        return {"kind": self.kind, **given}
