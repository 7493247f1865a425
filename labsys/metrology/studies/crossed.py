"""Repeatability and reproducibility where every appraiser measures every part, by analysis of variance.

Lives here: the crossed design with its settings, which the result names. May not live here: averages and ranges
(ranges.py), parts that each appraiser has alone (nested.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from labsys.metrology.studies.anova import Line
from labsys.metrology.studies.cube import NoSpreadSeen, cube, enough, spread_within
from labsys.metrology.studies.intervals import Interval, Term, interval_of_difference, interval_of_sum
from labsys.metrology.studies.variation import Breakdown, Scale, break_down, expect

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

AXES = ("part", "appraiser", "trial")


class Pooling(StrEnum):
    """When the interaction of part and appraiser is put into the repeatability."""

    BY_SIGNIFICANCE = "by significance"
    ALWAYS = "always"
    NEVER = "never"


class Denominator(StrEnum):
    """What parts and appraisers are tested against in the full table: the mean square of which line."""

    INTERACTION = "interaction"
    REPEATABILITY = "repeatability"


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossedRules:
    """The choices that change the answer.

    The interaction is pooled *by significance* where its p is above ``significance``; sources differ between 0.05
    (AIAG MSA, 4th edition) and 0.25 (common practice, no source). ``denominator`` changes F and p of the full table
    only. ``confidence`` is the level of the intervals. Raises BadStudySetting.
    """

    pooling: Pooling = Pooling.BY_SIGNIFICANCE
    significance: float = 0.05
    denominator: Denominator = Denominator.INTERACTION
    confidence: float = 0.95

    def __post_init__(self) -> None:
        """Refuse a significance that is none."""
        holds = 0 < self.significance < 1
        expect(holds, "Significance for pooling", "a probability above 0 and below 1", self.significance)


@dataclass(frozen=True, slots=True)
class CrossedStudy:
    """What a crossed study found.

    ``table`` has *part*, *appraiser*, *interaction*, *repeatability*, *total*; ``reduced`` the table with the
    interaction pooled (*part*, *appraiser*, *repeatability*), None where it was kept. ``breakdown`` has besides the
    usual rows *appraiser* and, where kept, *interaction*; ``intervals`` hold the standard deviations of
    *repeatability*, *grr* and *part* with the confidence of the rules.
    """

    rules: CrossedRules
    table: Mapping[str, Line]
    reduced: Mapping[str, Line] | None
    breakdown: Breakdown
    intervals: Mapping[str, Interval]
    part_means: tuple[float, ...]
    appraiser_means: tuple[float, ...]

    @property
    def is_pooled(self) -> bool:
        """Say whether the interaction was put into the repeatability."""
        return self.reduced is not None


@dataclass(frozen=True, slots=True)
class _Size:
    parts: int
    appraisers: int
    trials: int


def crossed_study(
    readings: Sequence[Sequence[Sequence[float]]],
    *,
    scale: Scale | None = None,
    rules: CrossedRules | None = None,
) -> CrossedStudy:
    """Analyse ``readings[part][appraiser][trial]`` as a two-way table of random effects with interaction.

    Parts, appraisers and trials: two or more of each, and every appraiser measured every part equally often. Formulas:
    AIAG MSA, 4th edition, chapter III section B and appendix A (read in transcriptions). Raises StudyTooSmall,
    UnbalancedStudy, NoSpreadSeen where no trials of one part by one appraiser differ, NotANumber, ReadingOutOfReach,
    BadStudySetting.
    """
    chosen = rules or CrossedRules()
    array = crossed_array(readings)
    size = _Size(*array.shape)
    full = _full_table(array, size)
    table = _tested(full, chosen.denominator)
    reduced = _reduced(full) if _pools(table["interaction"], chosen) else None
    return CrossedStudy(
        rules=chosen,
        table=table,
        reduced=reduced,
        breakdown=_breakdown(full if reduced is None else reduced, size, scale or Scale()),
        intervals=_intervals(full if reduced is None else reduced, size, chosen.confidence),
        part_means=tuple(float(mean) for mean in array.mean(axis=(1, 2))),
        appraiser_means=tuple(float(mean) for mean in array.mean(axis=(0, 2))),
    )


def crossed_array(readings: Sequence[Sequence[Sequence[float]]]) -> NDArray[np.float64]:
    """Check the readings of a crossed design; raises as ``crossed_study``."""
    array = cube(readings, axes=AXES)
    for axis, count in zip(AXES, array.shape, strict=True):
        enough(count, 2, f"{axis}s")
    if not spread_within(array):
        raise NoSpreadSeen(where="between trials of one part by one appraiser")
    return array


def _full_table(array: NDArray[np.float64], size: _Size) -> dict[str, Line]:
    """Add squares about the means: of parts, appraisers, cells, and of each reading about its cell."""
    about = array - array.mean()
    cells = about.mean(axis=2)
    parts, appraisers = cells.mean(axis=1), cells.mean(axis=0)
    apart = cells - parts[:, None] - appraisers[None, :]
    p, a, r = size.parts, size.appraisers, size.trials
    sums = {
        "part": (a * r * (parts**2).sum(), p - 1),
        "appraiser": (p * r * (appraisers**2).sum(), a - 1),
        "interaction": (r * (apart**2).sum(), (p - 1) * (a - 1)),
        "repeatability": (((about - cells[:, :, None]) ** 2).sum(), p * a * (r - 1)),
        "total": ((about**2).sum(), p * a * r - 1),
    }
    return {name: Line(name, float(ss), df) for name, (ss, df) in sums.items()}


def _tested(full: Mapping[str, Line], denominator: Denominator) -> dict[str, Line]:
    below = full[denominator.value]
    return {
        "part": full["part"].against(below),
        "appraiser": full["appraiser"].against(below),
        "interaction": full["interaction"].against(full["repeatability"]),
        "repeatability": full["repeatability"],
        "total": full["total"],
    }


def _pools(interaction: Line, rules: CrossedRules) -> bool:
    if rules.pooling is Pooling.BY_SIGNIFICANCE:
        return interaction.p is None or interaction.p > rules.significance
    return rules.pooling is Pooling.ALWAYS


def _reduced(full: Mapping[str, Line]) -> dict[str, Line]:
    kept, dropped = full["repeatability"], full["interaction"]
    pooled = Line("repeatability", kept.ss + dropped.ss, kept.df + dropped.df)
    return {
        "part": full["part"].against(pooled),
        "appraiser": full["appraiser"].against(pooled),
        "repeatability": pooled,
    }


def _breakdown(table: Mapping[str, Line], size: _Size, scale: Scale) -> Breakdown:
    repeatability = table["repeatability"].ms
    below = table.get("interaction", table["repeatability"]).ms
    estimates = {
        "repeatability": repeatability,
        "appraiser": (table["appraiser"].ms - below) / (size.parts * size.trials),
        "part": (table["part"].ms - below) / (size.appraisers * size.trials),
    }
    if "interaction" not in table:
        return break_down(estimates, ("appraiser",), scale)
    estimates["interaction"] = (below - repeatability) / size.trials
    return break_down(estimates, ("appraiser", "interaction"), scale)


def _intervals(table: Mapping[str, Line], size: _Size, confidence: float) -> dict[str, Interval]:
    below = table.get("interaction", table["repeatability"])
    cells = size.parts * size.trials
    share = 1 / (size.appraisers * size.trials)
    return {
        "repeatability": interval_of_sum([Term(1.0, table["repeatability"])], confidence),
        "grr": interval_of_sum(_grr_terms(table, size, cells), confidence),
        "part": interval_of_difference(Term(share, table["part"]), Term(share, below), confidence),
    }


def _grr_terms(table: Mapping[str, Line], size: _Size, cells: int) -> list[Term]:
    """Write σ²(appraiser) + σ²(interaction) + σ²(repeatability) as a sum of mean squares: all coefficients are above
    zero, so that the interval for a sum serves.
    """
    if "interaction" not in table:
        return [Term(1 / cells, table["appraiser"]), Term((cells - 1) / cells, table["repeatability"])]
    return [
        Term(1 / cells, table["appraiser"]),
        Term((size.parts - 1) / cells, table["interaction"]),
        Term((size.trials - 1) / size.trials, table["repeatability"]),
    ]
