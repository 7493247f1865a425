"""The budget of a procedure simulated at the trial's points, beside first order, before anybody signs it.

Lives here: the comparison of JCGM 101:2008, clause 8, for both uncertainties of every point tried, in the form that is
kept with the revision. May not live here: the arithmetic (``labsys.metrology.simulation``), the words (document).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.metadata import version
from typing import Any, Final

from instruments.procedures.content import Content
from instruments.procedures.trial import Trial
from labsys.errors import LabError
from labsys.metrology.budget import Budget
from labsys.metrology.exact import plain
from labsys.metrology.simulation import Comparison, compare_budget
from labsys.metrology.views import View

FORMAT: Final = 1
SEED_DIGITS: Final = 16
MOST_TRIALS: Final = 200_000
"""Settles U to better than 1 % of itself, so a difference of 5 % is certain, in some hundredths of a second a point."""


def simulate_trials(content: Content, content_sha256: str, trials: Iterable[Trial]) -> dict[str, Any]:
    """Compare first order with a simulation at every point of ``trials``, in the plain form that is kept.

    Every row starts from the same seed, the first 16 digits of the content's SHA-256: whoever has the content gets the
    same figures again. δ is that of as many significant digits of u as the procedure reports. An uncertainty that is
    exactly zero has no row. A refusal by the core stands in its row as ``why``.
    """
    seed = content_sha256[:SEED_DIGITS]
    return {
        "format": FORMAT,
        "seed": seed,
        "digits": content.digits,
        "probability": repr(content.probability),
        "numpy": version("numpy"),
        "rows": [row for trial in trials for row in _rows(trial, seed, content.digits)],
    }


def _rows(trial: Trial, seed: str, digits: int) -> Iterator[dict[str, Any]]:
    for view in View if trial.views is not None else ():
        assert trial.views is not None
        budget = trial.views.of(view)
        if budget.U_mm > 0:
            yield {
                "model": str(trial.model),
                "function": trial.function,
                "length_mm": f"{plain(trial.length_mm):f}",
                "unit": trial.model.unit,
                "view": view.value,
                "U_mm": repr(budget.U_mm),
                **_outcome(budget, seed, digits),
            }


def _outcome(budget: Budget, seed: str, digits: int) -> dict[str, Any]:
    try:
        found = _compared(budget, seed, digits)
    except LabError as refusal:
        return {"why": str(refusal)}
    simulated = found.simulated
    return {
        "low_mm": repr(simulated.interval.low),
        "high_mm": repr(simulated.interval.high),
        "U_simulated_mm": repr(simulated.interval.half_width),
        "share": repr(found.share),
        "tolerance_mm": repr(found.tolerance),
        "d_low_mm": repr(found.d_low),
        "d_high_mm": repr(found.d_high),
        "is_validated": found.is_validated,
        "is_settled": found.is_settled,
        "is_far_off": found.is_far_off,
        "trials": simulated.trials,
        "why": "",
    }


@lru_cache(maxsize=1024)
def _compared(budget: Budget, seed: str, digits: int) -> Comparison:
    """Keep what was simulated: models that share a budget, and the signature after the page, ask for the same again."""
    import numpy as np

    rng = np.random.default_rng(int(seed, 16))
    return compare_budget(budget, rng=rng, digits=digits, most_trials=MOST_TRIALS)
