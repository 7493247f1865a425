"""Which elements make a length: a single one where there is one, else the fewest blocks of one set.

Lives here: choosing among what is available, and saying why. May not live here: lengths to aim at (targets.py).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from instruments.procedures.content import ReferenceNeeds
from instruments.procedures.planner.stacks import Block, BlockSet
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.units import Unit, to_mm
from labsys.pages.figures import said_size
from standards.register.models import ElementValue
from standards.register.queries import Available

# The finest raster a scale in this unit is read to; a block off it can't be read without a rounding of its own.
_READ_TO = {
    Unit.MM: Decimal("0.001"),
    Unit.IN: to_mm(Decimal("0.0001"), Unit.IN),
    Unit.DEG: to_mm(Decimal("0.01"), Unit.DEG),
    Unit.ARCMIN: to_mm(Decimal(1), Unit.ARCMIN),
}


@dataclass(frozen=True, slots=True)
class Choice:
    """The elements that make a length (id and how often), what they add up to in mm, and why these."""

    elements: tuple[tuple[int, int], ...]
    nominal_mm: Decimal
    why: str


@dataclass
class Shelf:
    """What may be used for one function, with the sums of every block set worked out once."""

    items: Sequence[Available]
    needs: ReferenceNeeds
    unit: Unit
    most_blocks: int = 4
    _sets: dict[int, BlockSet] | None = field(default=None, repr=False)

    def exactly(self, length_mm: Decimal) -> Choice | None:
        """Make a length exactly: by one element, else by the fewest blocks of one set; None where nothing does."""
        reaching = self.reaching(length_mm)
        if reaching is not None:
            return reaching
        singles = [item for item in self.items if self._has(item, length_mm) and self.suits([item])]
        if singles:
            return _of([min(singles, key=_steadiest)], f"one element has this {self.unit.quantity}")
        return self._stacked(length_mm)

    def reaching(self, length_mm: Decimal) -> Choice | None:
        """Take an element that serves every length up to its own, the steadiest of them; None where there is none."""
        found = [
            item
            for item in self.items
            if item.element.continuous
            and length_mm <= item.element.nominal_mm
            and expanded(item.value) <= self.needs.most_U_mm(length_mm)
        ]
        if not found:
            return None
        best = min(found, key=_steadiest)
        most = said_size(best.element.nominal_mm, self.unit)
        why = f"{best.standard.tag} goes to every {self.unit.quantity} up to {most}"
        return Choice(((best.element.pk, 1),), length_mm, why)

    def nearest(self, length_mm: Decimal, low_mm: Decimal, high_mm: Decimal) -> Choice | None:
        """Find the single element within ``low_mm`` to ``high_mm`` nearest to a length, first among those that the
        gauge's unit can read.
        """
        within = [
            item
            for item in self.items
            if low_mm <= item.element.nominal_mm <= high_mm and not item.element.continuous
        ]
        suitable = [item for item in within if self.suits([item])]
        if not suitable:
            return None
        best = min(suitable, key=lambda item: (not self._reads(item), *_distance(item, length_mm)))
        return _of([best], "")

    def suits(self, items: Sequence[Available]) -> bool:
        """Say whether the elements together are as good as the procedure asks for at their length."""
        length = sum((item.element.nominal_mm for item in items), Decimal(0))
        return expanded_together(items) <= self.needs.most_U_mm(length)

    def too_coarse(self, low_mm: Decimal, high_mm: Decimal) -> Available | None:
        """Find an element that would serve the lengths but for its uncertainty, to name it."""
        within = (item for item in self.items if low_mm <= item.element.nominal_mm <= high_mm)
        return next((item for item in within if not self.suits([item])), None)

    def _stacked(self, length_mm: Decimal) -> Choice | None:
        by_id = {item.element.pk: item for item in self.items}
        found: list[list[Available]] = []
        for blocks in self._block_sets().values():
            stack = blocks.solve(to_picometres(length_mm), self.most_blocks)
            if stack is not None and len(stack) > 1:
                found.append([by_id[block.id] for block in stack])
        suitable = [stack for stack in found if self.suits(stack)]
        if not suitable:
            return None
        best = min(suitable, key=lambda stack: (len(stack), expanded_together(stack), stack[0].standard.pk))
        return _of(
            best,
            f"the fewest blocks of {best[0].standard.tag} that make this {self.unit.quantity}, {len(best)}",
        )

    def _block_sets(self) -> dict[int, BlockSet]:
        if self._sets is None:
            blocks: dict[int, list[Block]] = defaultdict(list)
            for item in self.items:
                if item.element.stackable:
                    size = to_picometres(item.element.nominal_mm)
                    blocks[item.standard.pk].append(Block(item.element.pk, size))
            self._sets = {standard: BlockSet(found) for standard, found in blocks.items()}
        return self._sets

    @staticmethod
    def _has(item: Available, length_mm: Decimal) -> bool:
        return not item.element.continuous and bool(item.element.nominal_mm == length_mm)

    def _reads(self, item: Available) -> bool:
        return bool(item.element.nominal_mm % _READ_TO[self.unit] == 0)


def expanded(value: ElementValue) -> Decimal:
    """Give the expanded uncertainty of one element's value for k = 2, in mm: U · 2/k, or 2/√3 of a grade's limit."""
    if value.basis == ElementValue.Basis.GRADE_LIMIT:
        return 2 * (value.limit_mm or Decimal(0)) / Decimal(3).sqrt()
    return 2 * (value.U_mm or Decimal(0)) / (value.k or Decimal(2))


def expanded_together(items: Sequence[Available]) -> Decimal:
    """Give the expanded uncertainty of elements used together (k = 2), in mm.

    Calibrated values of one certificate add up (r = 1); grade limits of different blocks add as root sum of squares.
    """
    calibrated = [item.value for item in items if item.value.basis == ElementValue.Basis.CALIBRATED]
    graded = [item.value for item in items if item.value.basis != ElementValue.Basis.CALIBRATED]
    linear = sum((expanded(value) for value in calibrated), Decimal(0))
    squares = sum((expanded(value) ** 2 for value in graded), Decimal(0))
    return (linear**2 + squares).sqrt()


def _of(items: Sequence[Available], why: str) -> Choice:
    total = sum(to_picometres(item.element.nominal_mm) for item in items)
    ordered = sorted(items, key=lambda item: (-item.element.nominal_mm, item.element.pk))
    return Choice(tuple((item.element.pk, 1) for item in ordered), from_picometres(total), why)


def _steadiest(item: Available) -> tuple[Decimal, int]:
    return expanded(item.value), item.element.pk


def _distance(item: Available, length_mm: Decimal) -> tuple[Decimal, Decimal, int]:
    return abs(item.element.nominal_mm - length_mm), *_steadiest(item)
