"""What the figures of a study mean for a tolerance, in words, with the thresholds and where they come from.

Lives here: thresholds and sentences. May not live here: the figures.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from labsys.metrology.studies.linearity import LinearityStudy
from labsys.metrology.studies.type1 import Type1Study
from labsys.metrology.studies.variation import Breakdown

GOOD_PERCENT: Final = 10.0
BAD_PERCENT: Final = 30.0
LEAST_CATEGORIES: Final = 5
MANUAL: Final = "AIAG MSA, 4th edition, chapter II section D (from memory)"
LEAST_CAPABILITY: Final = 1.33
MOST_STEP_PERCENT: Final = 5.0
COMMON: Final = "common practice, no source"
ARITHMETIC: Final = "arithmetic"


class Grade(StrEnum):
    """How a figure stands to its thresholds; *told* where there is no threshold."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    BAD = "bad"
    TOLD = "told"


@dataclass(frozen=True, slots=True)
class Meaning:
    """One sentence, how the figure stands, and the source of its threshold."""

    text: str
    grade: Grade
    source: str


def meaning_of_breakdown(found: Breakdown) -> tuple[Meaning, ...]:
    """Say what repeatability and reproducibility take of the study's spread and of the tolerance, and how many
    categories of parts can be told apart.
    """
    return tuple(_of_breakdown(found))


def meaning_of_type1(found: Type1Study) -> tuple[Meaning, ...]:
    """Say whether the gauge is capable on its reference, whether its bias is more than chance, and whether its step
    is fine enough.
    """
    return tuple(_of_type1(found))


def meaning_of_linearity(found: LinearityStudy) -> tuple[Meaning, ...]:
    """Say whether the bias changes over the range, and whether there is one at all."""
    slope, zero = found.slope, found.zero_line_holds
    source = "AIAG MSA, 4th edition, chapter III section B (from memory)"
    changes = "changes over the range" if slope.is_seen else "isn't seen to change over the range"
    level = "holds zero at every reference" if zero else "leaves zero out at one reference or more"
    return (
        Meaning(f"The bias {changes} (p = {slope.p:.3g}).", _good(not slope.is_seen), source),
        Meaning(f"The band of the bias line {level}.", _good(zero), source),
    )


def _of_breakdown(found: Breakdown) -> Iterator[Meaning]:
    grr, scale = found.rows["grr"], found.scale
    yield _shared(grr.percent_study, "of the study's spread")
    if grr.percent_tolerance is not None:
        yield _shared(grr.percent_tolerance, f"of the tolerance ({scale.width:g} standard deviations)")
        yield Meaning(
            f"A part within {2 * grr.sd:.4g} of a limit (2 standard deviations) may be read on its wrong side.",
            Grade.TOLD,
            ARITHMETIC,
        )
    enough = found.ndc >= LEAST_CATEGORIES
    yield Meaning(
        f"{found.ndc} categories of parts can be told apart ({found.ndc_unrounded:.3f}, {scale.ndc_rule.value}); "
        f"{LEAST_CATEGORIES} are wanted.",
        _good(enough),
        MANUAL,
    )


def _of_type1(found: Type1Study) -> Iterator[Meaning]:
    for name, value in (("Cg", found.Cg), ("Cgk", found.Cgk)):
        yield Meaning(
            f"{name} = {value:.2f}; at least {LEAST_CAPABILITY} is wanted.",
            _good(value >= LEAST_CAPABILITY),
            COMMON,
        )
    bias = found.basis.bias
    yield Meaning(
        f"The bias {'is more than chance' if bias.is_seen else 'may be chance'} (p = {bias.p:.3g}).",
        _good(not bias.is_seen),
        f"t test at {bias.confidence:g}",
    )
    if found.percent_step is not None:
        yield Meaning(
            f"The step is {found.percent_step:.1f} % of the tolerance; at most {MOST_STEP_PERCENT:g} % is wanted.",
            _good(found.percent_step <= MOST_STEP_PERCENT),
            COMMON,
        )


def _shared(percent: float, of: str) -> Meaning:
    if percent < GOOD_PERCENT:
        grade, word = Grade.GOOD, f"under {GOOD_PERCENT:g} %: generally acceptable"
    elif percent <= BAD_PERCENT:
        grade, word = Grade.DOUBTFUL, f"{GOOD_PERCENT:g} to {BAD_PERCENT:g} %: acceptable for some uses"
    else:
        grade, word = Grade.BAD, f"over {BAD_PERCENT:g} %: not acceptable"
    return Meaning(f"The measuring system takes {percent:.1f} % {of} ({word}).", grade, MANUAL)


def _good(holds: bool) -> Grade:
    return Grade.GOOD if holds else Grade.BAD
