"""Designs where each level has its own units of the next: parts that only one appraiser measures.

Lives here: the table of any balanced nested design, repeatability and reproducibility from it. May not live here:
check standards over runs and days (levels.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labsys.metrology.studies.anova import Line
from labsys.metrology.studies.cube import NoSpreadSeen, cube, enough, spread_within
from labsys.metrology.studies.intervals import Interval, Term, interval_of_difference, interval_of_sum
from labsys.metrology.studies.variation import Breakdown, Scale, break_down

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

AXES = ("appraiser", "part", "trial")


@dataclass(frozen=True, slots=True)
class NestedStudy:
    """What a nested study found: ``table`` with *appraiser*, *part* (within appraisers), *repeatability*.

    ``breakdown`` has the usual rows and *appraiser*; ``intervals`` hold the standard deviations of *repeatability* and
    *part*.
    """

    table: Mapping[str, Line]
    breakdown: Breakdown
    intervals: Mapping[str, Interval]


def nested_study(
    readings: Sequence[Sequence[Sequence[float]]], *, scale: Scale | None = None, confidence: float = 0.95
) -> NestedStudy:
    """Analyse ``readings[appraiser][part][trial]`` where no part is measured by two appraisers (destructive or far
    apart), all random and fully nested.

    Appraisers and parts are each tested against the next level down. Two or more of each. Formulas: expected mean
    squares of a balanced nested design (Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies, SIAM
    2005; from memory). Raises as ``crossed_study``.
    """
    array = cube(readings, axes=AXES)
    for axis, count in zip(AXES, array.shape, strict=True):
        enough(count, 2, f"{axis}s")
    if not spread_within(array):
        raise NoSpreadSeen(where="between trials of one part by one appraiser")
    _, parts, trials = array.shape
    lines = nested_lines(array, ("appraiser", "part", "repeatability"))
    appraiser, part, repeatability = lines
    estimates = {
        "repeatability": repeatability.ms,
        "appraiser": (appraiser.ms - part.ms) / (parts * trials),
        "part": (part.ms - repeatability.ms) / trials,
    }
    share = 1 / trials
    return NestedStudy(
        table={line.source: line for line in lines},
        breakdown=break_down(estimates, ("appraiser",), scale or Scale()),
        intervals={
            "repeatability": interval_of_sum([Term(1.0, repeatability)], confidence),
            "part": interval_of_difference(Term(share, part), Term(share, repeatability), confidence),
        },
    )


def nested_lines(array: NDArray[np.float64], sources: Sequence[str]) -> list[Line]:
    """Give one line for each axis of a balanced nested design, each tested against the next.

    At a level the squares of its means about those of the level above are added, times the readings in each.
    """
    about = array - array.mean()
    above = about.mean()
    lines = []
    for depth, source in enumerate(sources, 1):
        means = about.mean(axis=tuple(range(depth, about.ndim)))
        each = math.prod(about.shape[depth:])
        apart = means - (above[..., None] if depth > 1 else above)
        lines.append(
            Line(source, float(each * (apart**2).sum()), means.size - (above.size if depth > 1 else 1))
        )
        above = means
    return [line.against(below) for line, below in zip(lines, lines[1:], strict=False)] + lines[-1:]
