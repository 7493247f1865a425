"""Scores of one result against a reference value: E_n from expanded, zeta from standard uncertainties.

Lives here: the scores and what they mean. May not live here: where the reference value comes from (consensus.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from labsys.errors import LabError

LARGEST_EN: Final = 1.0
"""Largest satisfactory |E_n| (ISO 13528:2022, 9.7; ISO/IEC 17043; from memory)."""
QUESTIONABLE_ZETA: Final = 2.0
UNSATISFACTORY_ZETA: Final = 3.0
"""|ζ| up to 2 is satisfactory, from 3 on unsatisfactory (ISO 13528:2022, 9.4.2 and 9.6; from memory)."""


class Performance(StrEnum):
    """What a score says of a result."""

    SATISFACTORY = "satisfactory"
    QUESTIONABLE = "questionable"
    UNSATISFACTORY = "unsatisfactory"


class ScoreUndefined(LabError, ValueError):
    """A score from values or uncertainties that don't allow one."""

    code = "score-undefined"
    sentence = (
        "Expected finite values with uncertainties of zero or more, not both zero, found a difference of {difference} "
        "with {own} and {reference}. Complete the uncertainties."
    )


@dataclass(frozen=True, slots=True)
class Score:
    """A score with its numerator and denominator, and what it says."""

    value: float
    difference: float
    spread: float
    performance: Performance


def normalized_error(value: float, U: float, reference: float, U_reference: float) -> Score:
    """Give E_n = (x − x_ref)/√(U² + U_ref²) from expanded uncertainties with one k (ISO 13528:2022, 9.7).

    The two must be independent: a result that the reference value was made from isn't. Raises ScoreUndefined.
    """
    difference, spread = _parts(value, U, reference, U_reference)
    score = difference / spread
    performance = Performance.SATISFACTORY if abs(score) <= LARGEST_EN else Performance.UNSATISFACTORY
    return Score(score, difference, spread, performance)


def zeta_score(value: float, u: float, reference: float, u_reference: float) -> Score:
    """Give ζ = (x − x_ref)/√(u² + u_ref²) from standard uncertainties (ISO 13528:2022, 9.6); raises ScoreUndefined."""
    difference, spread = _parts(value, u, reference, u_reference)
    score = difference / spread
    if abs(score) >= UNSATISFACTORY_ZETA:
        performance = Performance.UNSATISFACTORY
    elif abs(score) > QUESTIONABLE_ZETA:
        performance = Performance.QUESTIONABLE
    else:
        performance = Performance.SATISFACTORY
    return Score(score, difference, spread, performance)


def _parts(value: float, own: float, reference: float, other: float) -> tuple[float, float]:
    difference, spread = value - reference, math.hypot(own, other)
    if not (math.isfinite(difference) and own >= 0 and other >= 0 and 0 < spread < math.inf):
        raise ScoreUndefined(difference=difference, own=own, reference=other)
    return difference, spread
