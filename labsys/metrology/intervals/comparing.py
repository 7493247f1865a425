"""Several reliability models beside each other: which are adequate, which is taken, how far they disagree.

Lives here: the table by Akaike's criterion, the ratio test against the exponential law, the spread. May not live here:
fits, decisions on an interval.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labsys.errors import LabError
from labsys.metrology.intervals.checks import Checks
from labsys.metrology.intervals.fitting import Fit, fit, interval_at
from labsys.metrology.intervals.goodness import LEAST_P, Goodness, goodness
from labsys.metrology.intervals.maximising import NotConverged
from labsys.metrology.intervals.models import MODELS, ModelName


class NoModelNamed(LabError, ValueError):
    """A comparison of no models."""

    code = "no-model-named"
    sentence = "Expected at least one reliability model, found none. Name the models to compare."


@dataclass(frozen=True, slots=True)
class Row:
    """One model of the table.

    ``months`` is its interval at the target, ``aic_above_least`` AIC above the table's least, ``p_against_exponential``
    that of the likelihood-ratio test (None where the model doesn't contain the exponential law or that was not fitted).
    """

    fit: Fit
    goodness: Goodness
    months: float
    aic_above_least: float
    p_against_exponential: float | None

    @property
    def is_eligible(self) -> bool:
        """Say whether it may be taken: adequate, and proven better than the exponential law it contains."""
        is_needed = self.p_against_exponential is None or self.p_against_exponential < LEAST_P
        return self.goodness.is_adequate and is_needed

    @property
    def warnings(self) -> tuple[str, ...]:
        """Say what to beware of."""
        edges = [
            name for name, is_edge in zip(self.fit.model.parameters, self.fit.is_edge, strict=True) if is_edge
        ]
        found = []
        if edges:
            found.append(f"{' and '.join(edges)} ran to an edge: the model collapses to a simpler one")
        if self.goodness.p is None:
            found.append("too few groups of ages to judge the fit")
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Comparison:
    """The table, least AIC first; the model taken (None: no adequate one); models that could not be fitted."""

    rows: tuple[Row, ...]
    taken: Row | None
    target: float
    not_fitted: Mapping[ModelName, str]

    @property
    def adequate_months(self) -> tuple[float, ...]:
        """Give the intervals of the adequate models, ascending."""
        return tuple(sorted(row.months for row in self.rows if row.goodness.is_adequate))

    @property
    def spread(self) -> float | None:
        """Give the largest of these over the smallest, less 1: 0.5 says that they differ by half; None for none."""
        found = self.adequate_months
        if not found:
            return None
        return found[-1] / found[0] - 1 if found[0] > 0 and math.isfinite(found[-1]) else math.inf


def compare_models(
    checks: Checks, target: float, models: Sequence[ModelName] = tuple(ModelName)
) -> Comparison:
    """Fit every one of ``models`` and put them in order of AIC; the eligible one with the least is taken.

    Where the ratio test bars all that contain the exponential law and none other is adequate, the adequate one with the
    least AIC is taken. Raises NoModelNamed, OutcomesAllAlike, NotConverged, TargetTooLow.
    """
    if not models:
        raise NoModelNamed()
    fits, not_fitted = _fitted(checks, tuple(dict.fromkeys(models)))
    plain = next((one for one in fits if one.name is ModelName.EXPONENTIAL), None)
    rows = tuple(
        Row(
            fit=one,
            goodness=goodness(checks, one),
            months=interval_at(one, target, checks.longest),
            aic_above_least=one.aic - fits[0].aic,
            p_against_exponential=_ratio_test(one, plain),
        )
        for one in fits
    )
    adequate = [row for row in rows if row.goodness.is_adequate]
    taken = next((row for row in adequate if row.is_eligible), adequate[0] if adequate else None)
    return Comparison(rows, taken, target, not_fitted)


def _fitted(checks: Checks, models: Sequence[ModelName]) -> tuple[list[Fit], dict[ModelName, str]]:
    """Fit what can be fitted, least AIC first; one model's failed search doesn't spoil the table, all of them do."""
    fits, failed = [], {}
    for name in models:
        try:
            fits.append(fit(checks, MODELS[name]))
        except NotConverged as refusal:
            failed[name] = str(refusal)
            if len(failed) == len(models):
                raise
    return sorted(fits, key=lambda one: one.aic), failed


def _ratio_test(found: Fit, plain: Fit | None) -> float | None:
    from scipy.special import chdtrc

    if plain is None or not found.model.nests_exponential:
        return None
    gained = max(0.0, 2 * (found.log_likelihood - plain.log_likelihood))
    return float(chdtrc(len(found.parameters) - 1, gained))
