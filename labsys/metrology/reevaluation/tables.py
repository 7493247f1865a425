"""Results, the standards' values they used, and the changes of these, as arrays.

Lives here: their form and what is refused. May not live here: how changes are carried (carrying.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError
from labsys.metrology.arrays import ComponentArrays, LimitArrays, UncertaintyArrays
from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.rules import Rule

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NO_RULE: Final = -1
NO_COLUMN: Final = -1
NO_DAY: Final = 0
"""The day when a standard was last known good, where nobody knows."""

BILLION: Final = 10**9


class BadReevaluation(LabError, ValueError):
    """Arrays of a re-evaluation that don't belong together."""

    code = "bad-reevaluation"
    sentence = "Re-evaluation, {what}: expected {expected}, found {found}."


class ChangeTooLarge(LabError, ValueError):
    """A change of a standard that no re-evaluation can be about."""

    code = "change-too-large"
    sentence = "Expected changes under {most} mm in all, found more. Check the values used and the new ones."


@dataclass(frozen=True, slots=True, eq=False)
class ResultArrays:
    """N stored results: values (errors or deviations, whole picometres) with the day each was measured.

    ``days`` count as ``date.toordinal`` does. ``rules`` with ``rule_of`` (N,) say how each is judged, NO_RULE where
    nobody judges it; ``uncertainty`` is the one that the rule names. ``components``, with ``probability`` and
    ``freedom_rule``, are needed only where a new uncertainty of a standard is to replace its component. Raises
    BadReevaluation.
    """

    values_pm: NDArray[np.int64]
    days: NDArray[np.int64]
    limits: LimitArrays
    uncertainty: UncertaintyArrays
    rules: tuple[Rule, ...]
    rule_of: NDArray[np.int64]
    components: ComponentArrays | None = None
    probability: float = DEFAULT_PROBABILITY
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE

    def __post_init__(self) -> None:
        """Refuse arrays of different length and rules that aren't there."""
        count = len(self.values_pm)
        lengths = {
            "days": len(self.days),
            "limits": len(self.limits.lower_pm),
            "uncertainties": len(self.uncertainty.U_mm),
            "rules": len(self.rule_of),
            "components": count if self.components is None else len(self.components.sizes),
        }
        for what, length in lengths.items():
            expect(length == count, what, f"one for each of {count} results", length)
        expect_between(self.rule_of, NO_RULE, len(self.rules), "rules")


@dataclass(frozen=True, slots=True, eq=False)
class UseArrays:
    """E uses of a standard's value by a result.

    ``results`` are places in the results, ``sources`` places in the changes, from their number on places in the
    results: a result that became a standard's value. ``sensitivities`` are ∂result/∂deviation times the count, their
    whole part in ``sensitivities`` (−1 for an indicating gauge, +1 for a comparison, −3 for three wires) and the rest
    in ``billionths`` (None: all are whole). ``columns`` are the places of the standard's component in the budget of
    the result, NO_COLUMN where it has none (None: nowhere).
    """

    results: NDArray[np.int64]
    sources: NDArray[np.int64]
    sensitivities: NDArray[np.int64]
    billionths: NDArray[np.int64] | None = None
    columns: NDArray[np.int64] | None = None

    def __post_init__(self) -> None:
        """Refuse arrays of different length."""
        for what in ("sources", "sensitivities", "billionths", "columns"):
            array = getattr(self, what)
            fits = array is None or array.shape == self.results.shape
            expect(fits, what, f"one for each of {len(self.results)} uses", 0 if fits else len(array))


@dataclass(frozen=True, slots=True, eq=False)
class ChangeArrays:
    """S standards' values that changed: Δ = newly accepted minus used deviation, in whole picometres.

    ``good_days``: when each was last known good (NO_DAY: unknown), ``found_days``: when it was found off.
    ``u_mm`` are new standard uncertainties with their ``nu``, negative where the old one stays (None: all stay).
    Raises BadReevaluation.
    """

    deltas_pm: NDArray[np.int64]
    good_days: NDArray[np.int64]
    found_days: NDArray[np.int64]
    u_mm: NDArray[np.float64] | None = None
    nu: NDArray[np.float64] | None = None

    def __post_init__(self) -> None:
        """Refuse arrays of different length, and days in the wrong order."""
        count = len(self.deltas_pm)
        for what in ("good_days", "found_days", "u_mm", "nu"):
            array = getattr(self, what)
            expect(array is None or len(array) == count, what, f"one for each of {count} changes", what)
        in_order = bool((self.good_days <= self.found_days).all())
        expect(in_order, "days", "a standard last known good before it was found off", "the contrary")


def expect(holds: bool, what: str, expected: str, found: object) -> None:
    """Refuse where something doesn't hold."""
    if not holds:
        raise BadReevaluation(what=what, expected=expected, found=found)


def expect_between(places: NDArray[np.int64], least: int, below: int, what: str) -> None:
    """Refuse places outside of what there is."""
    if len(places):
        holds = bool(places.min() >= least and places.max() < below)
        expect(holds, what, f"places from {least} to {below - 1}", f"{places.min()} to {places.max()}")
