"""Every item of a group beside the rest of it: which fail more often than the others, and which less.

Lives here: the comparison over records. May not live here: the binomial tails (binomial.py), what is done with an item.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.metrology.intervals.binomial import FLAG_BELOW, ItemInGroup, item_in_group, substituted
from labsys.metrology.intervals.records import DataCount, Record, count, usable

SOURCES = ("exact binomial tails against the rest of the group; threshold: common practice, no source",)


@dataclass(frozen=True, slots=True)
class ItemBeside:
    """An item's counts beside the reliability of all other items, and what its tails say."""

    item: str
    n: int
    in_tolerance: int
    others_reliability: float
    judged: ItemInGroup


@dataclass(frozen=True, slots=True)
class Homogeneity:
    """All items, the worst first; ``needs`` says what a comparison would take where there is none."""

    items: tuple[ItemBeside, ...]
    data: DataCount
    threshold: float
    needs: str

    @property
    def flagged(self) -> tuple[ItemBeside, ...]:
        """Give the items that differ from the rest."""
        return tuple(one for one in self.items if one.judged.is_worse or one.judged.is_better)

    @property
    def most_by_chance(self) -> float:
        """Give how many items of a group without any difference are flagged at most, on average."""
        return 2 * self.threshold * len(self.items)


def compare_items(records: Sequence[Record], *, threshold: float = FLAG_BELOW) -> Homogeneity:
    """Compare each item with all others together, whose rate is taken as known.

    Where all others are alike, (x + 0.5)/(n + 1) stands for their rate, since a rate of 1 would condemn an item for one
    failure. With fewer than two items nothing is compared. Raises ProbabilityOutOfRange, OutcomeMissing.
    """
    kept, left_out = usable(records)
    data = count(kept, left_out)
    names = list(dict.fromkeys(one.item for one in kept))
    if len(names) < 2:
        return Homogeneity((), data, threshold, "usable records of two items or more")
    items = [_beside(name, kept, data, threshold) for name in names]
    items.sort(key=lambda one: one.judged.p_lower)
    return Homogeneity(tuple(items), data, threshold, "")


def _beside(name: str, kept: Sequence[Record], data: DataCount, threshold: float) -> ItemBeside:
    own = [one for one in kept if one.item == name]
    n, x = len(own), sum(1 for one in own if one.in_tolerance)
    others = substituted(data.used - n, data.used - data.out - x)
    return ItemBeside(name, n, x, others, item_in_group(n, x, others, threshold=threshold))
