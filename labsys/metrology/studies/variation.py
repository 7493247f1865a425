"""How the spread seen in a study divides: what each source takes of the whole and of the tolerance.

Lives here: variance components with their shares, distinct categories. May not live here: how a component is
estimated (crossed.py, ranges.py, nested.py), what is good enough (meaning.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from labsys.errors import LabError

STUDY_WIDTH: Final = 6.0
"""Standard deviations that a study's spread is stated over (AIAG MSA, 4th edition; 5.15 was used before)."""

CATEGORY_FACTOR: Final = 1.41
"""The root of two as the manual prints it: ndc = 1.41·PV/GRR (AIAG MSA, 4th edition)."""

WHOLES: Final = ("grr", "total")
"""Rows that are sums of others, and so never set to zero by themselves."""


class NdcRule(StrEnum):
    """What becomes of broken distinct categories: the manual truncates, many programs round."""

    TRUNCATE = "truncate"
    NEAREST = "nearest"


class BadStudySetting(LabError, ValueError):
    """A setting of a study that means nothing."""

    code = "bad-study-setting"
    sentence = "{what}: expected {expected}, found {found}. Correct the setting of the study."


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What a study's spread is held against.

    ``tolerance`` is the width of the tolerance in the readings' unit (None: no share of it), ``width`` how many
    standard deviations the spread is stated over, ``ndc_rule`` names the rounding of the distinct categories.
    Raises BadStudySetting.
    """

    tolerance: float | None = None
    width: float = STUDY_WIDTH
    ndc_rule: NdcRule = NdcRule.TRUNCATE

    def __post_init__(self) -> None:
        """Refuse a width that is none."""
        for what, value in (("Tolerance", self.tolerance), ("Width of the study", self.width)):
            if value is not None:
                expect(math.isfinite(value) and value > 0, what, "a finite number above zero", value)


@dataclass(frozen=True, slots=True)
class Variation:
    """One source: its variance as used, the ``estimate`` before a negative one was set to zero, shares in percent.

    ``percent_contribution`` is of the variance (adds up to 100), ``percent_study`` of the standard deviation (doesn't),
    ``percent_tolerance`` = 100·width·s/tolerance, None without a tolerance.
    """

    variance: float
    estimate: float
    percent_contribution: float
    percent_study: float
    percent_tolerance: float | None

    @property
    def sd(self) -> float:
        """Give the standard deviation, in the readings' unit."""
        return math.sqrt(self.variance)

    @property
    def is_set_to_zero(self) -> bool:
        """Say whether the estimate was negative."""
        return self.estimate < 0


@dataclass(frozen=True, slots=True)
class Breakdown:
    """The rows by source (*repeatability*, *reproducibility*, *grr*, *part*, *total* and what else the design gives).

    ``ndc`` are the distinct categories after ``scale.ndc_rule``, ``ndc_unrounded`` before; ``notes`` say in words
    what was set to zero.
    """

    rows: Mapping[str, Variation]
    ndc: int
    ndc_unrounded: float
    scale: Scale
    notes: tuple[str, ...]


def expect(holds: bool, what: str, expected: str, found: object) -> None:
    """Refuse a setting; raises BadStudySetting."""
    if not holds:
        raise BadStudySetting(what=what, expected=expected, found=found)


def break_down(estimates: Mapping[str, float], reproducibility: tuple[str, ...], scale: Scale) -> Breakdown:
    """Divide the spread among its sources.

    ``estimates`` are variance components by source, with *repeatability* (above zero) and *part*; those named in
    ``reproducibility`` add up to it. Negative ones are set to zero, and the notes say so.
    """
    used = {name: max(0.0, estimate) for name, estimate in estimates.items()}
    sums = {"reproducibility": math.fsum(used[name] for name in reproducibility)}
    sums["grr"] = used["repeatability"] + sums["reproducibility"]
    sums["total"] = sums["grr"] + used["part"]
    rows = {name: _row(value, estimates[name], sums["total"], scale) for name, value in used.items()}
    rows |= {name: _row(value, value, sums["total"], scale) for name, value in sums.items()}
    ndc = CATEGORY_FACTOR * math.sqrt(used["part"] / sums["grr"])
    return Breakdown(rows, _whole(ndc, scale.ndc_rule), ndc, scale, tuple(_notes(estimates)))


def _row(value: float, estimate: float, total: float, scale: Scale) -> Variation:
    width = scale.width * math.sqrt(value)
    return Variation(
        variance=value,
        estimate=estimate,
        percent_contribution=100 * value / total,
        percent_study=100 * math.sqrt(value / total),
        percent_tolerance=None if scale.tolerance is None else 100 * width / scale.tolerance,
    )


def _whole(ndc: float, rule: NdcRule) -> int:
    return math.floor(ndc) if rule is NdcRule.TRUNCATE else math.floor(ndc + 0.5)


def _notes(estimates: Mapping[str, float]) -> list[str]:
    return [
        f"The estimate for {name} was negative ({estimate:.4g}) and was set to zero: nothing of it was seen "
        f"beyond chance."
        for name, estimate in estimates.items()
        if estimate < 0
    ]
