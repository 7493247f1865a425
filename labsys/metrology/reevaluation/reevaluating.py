"""Re-evaluating stored records: what each result would have been, and whether its verdict holds.

Lives here: ``reevaluate``, the front door for records, and its answer. May not live here: many results as arrays
(many.py), cases and notices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from labsys.metrology.arrays import (
    NO_VERDICT,
    REFUSALS,
    VERDICTS,
    ComponentArrays,
    LimitArrays,
    UncertaintyArrays,
)
from labsys.metrology.arrays.coverage import SHAPES
from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.reevaluation.many import ReevaluationArrays, Values, reevaluate_many
from labsys.metrology.reevaluation.records import (
    Change,
    StoredResult,
    change_arrays,
    places_of,
    use_arrays,
)
from labsys.metrology.reevaluation.tables import NO_RULE, ResultArrays
from labsys.metrology.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class Outcome:
    """A value in mm, how far it moved, its verdict (None: not judged, or refused for the reason ``refusal`` codes)."""

    value_mm: Decimal
    shift_mm: Decimal
    verdict: Verdict | None
    refusal: str | None


@dataclass(frozen=True, slots=True)
class Reevaluated:
    """One result ``before``, with the whole change (``worst``) and with the change ``interpolated`` in time.

    ``U_before_mm`` is the stored U, ``U_mm`` the one both new verdicts rest on.
    """

    name: str
    before: Outcome
    worst: Outcome
    interpolated: Outcome
    U_before_mm: float
    U_mm: float

    @property
    def flips(self) -> bool:
        """Say whether the verdict changes, either way of reckoning."""
        return self.before.verdict != self.worst.verdict or self.before.verdict != self.interpolated.verdict

    @property
    def shift_over_U(self) -> float | None:
        """Give the larger shift as a share of the stored U, None where that is zero."""
        shift = max(abs(self.worst.shift_mm), abs(self.interpolated.shift_mm))
        return None if self.U_before_mm == 0 else float(shift) / self.U_before_mm


@dataclass(frozen=True, slots=True)
class Reevaluation:
    """All results, in the order given; what was issued stays as it is."""

    results: tuple[Reevaluated, ...]

    @property
    def flips(self) -> tuple[Reevaluated, ...]:
        """List the results whose verdict doesn't hold."""
        return tuple(one for one in self.results if one.flips)


def reevaluate(
    results: Sequence[StoredResult],
    changes: Sequence[Change],
    *,
    probability: float = DEFAULT_PROBABILITY,
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE,
) -> Reevaluation:
    """Carry ``changes`` of standards through ``results`` and judge these again, as ``reevaluate_many`` does.

    Results may come in any order. Uses of standards that didn't change move nothing. ``probability`` and
    ``freedom_rule`` are those of the budgets, for new U. Raises NameTaken, WrongComponent and what
    ``reevaluate_many`` raises.
    """
    if not results:
        return Reevaluation(())
    places = places_of(results, changes)
    stored = _result_arrays(results, probability, freedom_rule)
    found = reevaluate_many(
        stored,
        use_arrays(results, places),
        change_arrays(changes),
        name=lambda place: results[place].name,
    )
    return Reevaluation(tuple(_one(found, one, place) for place, one in enumerate(results)))


def _result_arrays(
    results: Sequence[StoredResult], probability: float, freedom_rule: FreedomRule
) -> ResultArrays:
    import numpy as np

    rules = list(dict.fromkeys(one.rule for one in results if one.rule is not None))
    budgets = [one.components for one in results]
    return ResultArrays(
        np.array([to_picometres(one.value_mm) for one in results], np.int64),
        np.array([one.measured_on.toordinal() for one in results], np.int64),
        LimitArrays.of([one.limits for one in results]),
        _uncertainty(results),
        tuple(rules),
        np.array([NO_RULE if one.rule is None else rules.index(one.rule) for one in results], np.int64),
        ComponentArrays.of(budgets) if any(budgets) else None,
        probability,
        freedom_rule,
    )


def _uncertainty(results: Sequence[StoredResult]) -> UncertaintyArrays:
    import numpy as np

    spreads = [one.spread for one in results]
    return UncertaintyArrays(
        np.array([one.U_mm for one in results], float),
        np.array([one.u_mm for one in spreads], float),
        np.array([one.nu for one in spreads], float),
        np.array([SHAPES.index(one.shape) for one in spreads], np.int8),
        np.array([one.beta for one in spreads], float),
    )


def _one(found: ReevaluationArrays, stored: StoredResult, place: int) -> Reevaluated:
    before = int(found.before.values_pm[place])
    return Reevaluated(
        name=stored.name,
        before=_outcome(found.before, place, before),
        worst=_outcome(found.worst, place, before),
        interpolated=_outcome(found.interpolated, place, before),
        U_before_mm=stored.U_mm,
        U_mm=float(found.uncertainty.U_mm[place]),
    )


def _outcome(values: Values, place: int, before_pm: int) -> Outcome:
    value, verdict = int(values.values_pm[place]), int(values.verdicts[place])
    refusal = REFUSALS[int(values.refusals[place])]
    return Outcome(
        from_picometres(value),
        from_picometres(value - before_pm),
        None if verdict == NO_VERDICT else VERDICTS[verdict],
        None if refusal is None else refusal.code,
    )
