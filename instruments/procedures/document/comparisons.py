"""The comparison of first order with a simulation as rows of a table for people."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from instruments.procedures.content import FUNCTIONS
from instruments.procedures.document.trials import length_words, uncertainty_words
from labsys.metrology.reporting import as_decimal, percent
from labsys.metrology.units import Unit, from_mm
from labsys.metrology.views import VIEW_WORDS, View
from labsys.pages import figures


@dataclass(frozen=True, slots=True)
class ComparisonRow:
    """One line: a point and which U, both figures, how far apart, the verdict; ``why`` where there is none."""

    point: str
    view: str
    U: str
    U_simulated: str
    difference: str
    tolerance: str
    verdict: str
    is_far_off: bool
    why: str


@dataclass(frozen=True, slots=True)
class ComparisonTable:
    """All lines, with the seed, digits and coverage probability they hold for."""

    seed: str
    digits: str
    probability: str
    rows: tuple[ComparisonRow, ...]

    @property
    def far_off(self) -> int:
        """Count the lines where the two differ by more than 5 %."""
        return sum(row.is_far_off for row in self.rows)


def comparison_table(stored: Mapping[str, Any] | None) -> ComparisonTable | None:
    """Write a kept comparison down; None where none was kept, as for revisions approved before it was made."""
    if stored is None:
        return None
    digits = "one significant digit" if stored["digits"] == 1 else "two significant digits"
    rows = tuple(_row(one) for one in stored["rows"])
    return ComparisonTable(stored["seed"], digits, percent(float(stored["probability"])), rows)


def _row(stored: Mapping[str, Any]) -> ComparisonRow:
    length = length_words(Decimal(stored["length_mm"]), Unit(stored["unit"]))
    is_refused = bool(stored["why"])
    return ComparisonRow(
        point=f"{stored['model']}, {FUNCTIONS.get(stored['function'], stored['function'])}, {length}",
        view=VIEW_WORDS[View(stored["view"])],
        U=uncertainty_words(float(stored["U_mm"]), stored["unit"]),
        U_simulated="" if is_refused else uncertainty_words(float(stored["U_simulated_mm"]), stored["unit"]),
        difference="" if is_refused else _difference(stored),
        tolerance="" if is_refused else _tolerance(stored),
        verdict="" if is_refused else _verdict(stored),
        is_far_off=not is_refused and stored["is_far_off"],
        why=stored["why"],
    )


def _difference(stored: Mapping[str, Any]) -> str:
    share = figures.signed(as_decimal(float(stored["share"])) * 100, places=1)
    return figures.with_unit(share, "%")


def _tolerance(stored: Mapping[str, Any]) -> str:
    fine = Unit(stored["unit"]).quantity.fine
    return figures.with_unit(figures.plain(from_mm(as_decimal(float(stored["tolerance_mm"])), fine)), fine)


def _verdict(stored: Mapping[str, Any]) -> str:
    word = "yes" if stored["is_validated"] else "no"
    return word if stored["is_settled"] else f"{word}, not settled in {stored['trials']} trials"
