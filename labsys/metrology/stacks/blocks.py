"""A gauge block as a stack needs it, and a stack of blocks.

Lives here: exact sizes in whole picometres, sums of nominals and deviations. May not live here: the search
(searching.py), uncertainty (uncertainty.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Final

from labsys.errors import LabError
from labsys.metrology.error import from_picometres
from labsys.metrology.exact import EXACT, plain
from labsys.metrology.inputs import Basis, Number, ReferenceUncertainty
from labsys.metrology.units import Unit

PICOMETRES: Final = 10**9
"""In a millimetre."""

LONGEST_MM: Final = 10_000
"""Neither a block nor a stack is longer: what is, was given in the wrong unit."""


class BadBlock(LabError, ValueError):
    """A block whose size can't be, or isn't exact."""

    code = "bad-block"
    sentence = "Block “{identity}”: expected {expected}, found {found}. Correct the block's nominal size or its unit."


class BadLength(LabError, ValueError):
    """A length that no stack can be asked for."""

    code = "bad-stack-length"
    sentence = "Expected {expected} for the stack, found {found}. Correct the length or its unit."


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One gauge block.

    ``nominal`` in ``unit`` is exact; ``deviation_mm`` is calibrated size minus nominal. With a ``limit_mm`` its
    deviation is only known to lie within plus or minus that limit of its grade; otherwise ``U_mm``, ``k`` and ``nu``
    come from its ``certificate``. Raises BadBlock.
    """

    identity: str
    nominal: Decimal
    unit: Unit = Unit.MM
    deviation_mm: Decimal = Decimal(0)
    certificate: str = ""
    U_mm: Number = 0.0
    k: Number = 2.0
    nu: Number = math.inf
    limit_mm: Number | None = None

    def __post_init__(self) -> None:
        """Refuse a size that isn't a whole number of picometres between zero and ten metres."""
        size = exact_picometres(self.nominal, self.unit)
        if size is None or not 0 < size <= LONGEST_MM * PICOMETRES:
            expected = f"a size above zero, at most {LONGEST_MM} mm, in whole picometres"
            raise BadBlock(
                identity=self.identity, expected=expected, found=f"{self.nominal} {self.unit.value}"
            )
        if not self.deviation_mm.is_finite():
            raise BadBlock(identity=self.identity, expected="a finite deviation", found=self.deviation_mm)

    @property
    def picometres(self) -> int:
        """Give the nominal size in whole picometres."""
        found = exact_picometres(self.nominal, self.unit)
        assert found is not None  # refused when it was made
        return found

    @property
    def has_uncertainty(self) -> bool:
        """Say whether its certificate's U or its grade's limit was given."""
        return self.limit_mm is not None or self.U_mm > 0

    @property
    def words(self) -> str:
        """Print the nominal size, with its unit where that isn't mm."""
        size = f"{plain(self.nominal):f}"
        return size if self.unit is Unit.MM else f"{size} {self.unit.value}"

    @property
    def reference(self) -> ReferenceUncertainty:
        """Give what a budget needs of this block, as a part of the stack's length (sensitivity +1)."""
        return ReferenceUncertainty(
            certificate=self.certificate,
            label=self.identity,
            nominal_mm=from_picometres(self.picometres),
            basis=Basis.CALIBRATED if self.limit_mm is None else Basis.GRADE_LIMIT,
            U_mm=self.U_mm,
            k=self.k,
            nu=self.nu,
            limit_mm=self.limit_mm or 0.0,
            sensitivity=1.0,
        )


@dataclass(frozen=True, slots=True)
class Stack:
    """Blocks wrung together, in the order they are built: a wear block at each end where asked for, thick to thin."""

    blocks: tuple[Block, ...]

    @property
    def picometres(self) -> int:
        """Give the sum of the nominal sizes in whole picometres."""
        return sum(block.picometres for block in self.blocks)

    @property
    def nominal_mm(self) -> Decimal:
        """Give the sum of the nominal sizes, exact."""
        return from_picometres(self.picometres)

    @property
    def deviation_mm(self) -> Decimal:
        """Give the sum of the calibrated deviations, exact."""
        with localcontext(EXACT):
            return sum((block.deviation_mm for block in self.blocks), Decimal(0))

    @property
    def length_mm(self) -> Decimal:
        """Give nominal plus deviation: the reference length at 20 °C."""
        with localcontext(EXACT):
            return self.nominal_mm + self.deviation_mm

    @property
    def joints(self) -> int:
        """Count the wrung joints."""
        return len(self.blocks) - 1

    @property
    def words(self) -> str:
        """Print the stack as its sizes: 50 + 6 + 1.34 + 1.005."""
        return " + ".join(block.words for block in self.blocks)


def exact_picometres(value: Decimal, unit: Unit) -> int | None:
    """Give a length in whole picometres, None where it is none or isn't whole."""
    if not value.is_finite():
        return None
    size = Fraction(value) * unit.factor_mm * PICOMETRES
    return size.numerator if size.denominator == 1 else None


def stacked(blocks: Sequence[Block], ends: Sequence[Block] = ()) -> Stack:
    """Put ``blocks`` in order, thick to thin, between the wear blocks in ``ends`` (none, one or two)."""
    inner = sorted(blocks, key=lambda block: (-block.picometres, block.identity))
    return Stack((*ends[:1], *inner, *ends[1:]))
