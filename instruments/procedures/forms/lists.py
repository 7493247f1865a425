"""The lists of a content that are changed item by item, each by the name its address has.

Lives here: where a list stands and which form its items have. May not live here: the forms themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from instruments.procedures.forms.items import BandForm, ComponentForm, ItemForm, LookForm
from instruments.procedures.forms.series import SeriesForm

OWN_BUDGET = "budget-of-"
"""How the name of the budget of one series begins; the code of the series follows."""


@dataclass(frozen=True, slots=True)
class ItemList:
    """A list of a content: the form of its items, the steps that lead there, the part of the page it is shown in.

    ``of`` names what a list within an item belongs to.
    """

    form: type[ItemForm]
    steps: tuple[str | int, ...]
    part: str
    may_be_empty: bool = False
    of: str = ""

    def items(self, content: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Give the items that a content has."""
        found: Any = content
        for step in self.steps[:-1]:
            found = found[step]
        return list(found.get(self.steps[-1]) or ())

    def put(self, content: dict[str, Any], items: list[dict[str, Any]]) -> None:
        """Put items into a content, in the order in which they are stored."""
        target: Any = content
        for step in self.steps[:-1]:
            target = target[step]
        target[self.steps[-1]] = self.form.ordered(items)

    def place(self, index: int) -> str:
        """Name the place of an item as faults do: ``series[2].budget[0]``."""
        written = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in self.steps)
        return f"{written.removeprefix('.')}[{index}]"


def list_named(name: str, content: Mapping[str, Any]) -> ItemList | None:
    """Find a list by its name in addresses; None where the content has no such list."""
    has_points = content.get("points") is not None
    if name == "looks":
        return ItemList(LookForm, ("looks",), "looks")
    if name == "bands" and has_points:
        return ItemList(BandForm, ("points", "bands"), "bands")
    if name == "series":
        return ItemList(SeriesForm, ("series",), "series", may_be_empty=has_points)
    if name == "budget":
        return ItemList(ComponentForm, ("budget",), "budget")
    return _own_budget(name.removeprefix(OWN_BUDGET), content) if name.startswith(OWN_BUDGET) else None


def _own_budget(code: str, content: Mapping[str, Any]) -> ItemList | None:
    """Find the budget of a series that has its own."""
    for index, one in enumerate(content.get("series") or ()):
        if one["code"] == code and one.get("budget"):
            return ItemList(ComponentForm, ("series", index, "budget"), f"series-{code}", of=str(one["name"]))
    return None
