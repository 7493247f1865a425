"""A check standard over three levels of time: repeats, days within a run, runs.

Lives here: the three standard deviations of such a design and what each level adds. May not live here: charts of the
check standard.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labsys.metrology.studies.cube import NoSpreadSeen, cube, enough
from labsys.metrology.studies.variation import expect

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

AXES = ("artefact", "run", "day")


@dataclass(frozen=True, slots=True)
class Level:
    """One level: the standard deviation of its means ``s`` with ``df`` degrees of freedom, and what the level itself
    adds, ``added`` (both in the readings' unit); ``estimate`` is added² before a negative one was set to zero.
    """

    s: float
    df: int
    estimate: float

    @property
    def added(self) -> float:
        """Give the standard deviation that this level adds to those below it."""
        return math.sqrt(max(0.0, self.estimate))


@dataclass(frozen=True, slots=True)
class LevelStudy:
    """Repeats (level 1), days (2) and runs (3), pooled over artefacts; ``single_sd`` is the standard deviation of one
    measurement at another time: √(s₃² + (K − 1)/K·s₂² + (J − 1)/J·s₁²) for J repeats and K days.
    """

    repeatability: Level
    day: Level
    run: Level
    repeats: int
    days: int
    single_sd: float
    notes: tuple[str, ...]


def level_study(means: Sequence[Any], deviations: Sequence[Any], *, repeats: int) -> LevelStudy:
    """Analyse means and standard deviations of ``repeats`` readings, each as ``[artefact][run][day]``.

    One artefact or more, two runs or more, two days or more in each; the artefacts differ by themselves, which isn't
    counted. Formulas: NIST/SEMATECH e-Handbook 2.4.4 and 2.6.3 (the standard deviations, read; the single measurement,
    from memory). Raises UnbalancedStudy, StudyTooSmall, NoSpreadSeen, BadStudySetting for a negative deviation,
    NotANumber, ReadingOutOfReach.
    """
    enough(repeats, 2, "repeats")
    table, spread = cube(means, axes=AXES), cube(deviations, axes=AXES)
    expect(table.shape == spread.shape, "Deviations", f"a shape of {table.shape}, as the means", spread.shape)
    least = float(spread.min())
    expect(least >= 0, "Deviations", "zero or more", least)
    _, runs, days = table.shape
    enough(runs, 2, "runs")
    enough(days, 2, "days in each run")
    if not spread.any():
        raise NoSpreadSeen(where="between repeats")
    return _study(table, float((spread**2).mean()), repeats)


def level_study_of_readings(readings: Sequence[Any]) -> LevelStudy:
    """Analyse the readings themselves, as ``[artefact][run][day][repeat]``; otherwise as ``level_study``."""
    array = cube(readings, axes=(*AXES, "repeat"))
    repeats = array.shape[3]
    enough(repeats, 2, "repeats")
    return level_study(array.mean(axis=3).tolist(), array.std(axis=3, ddof=1).tolist(), repeats=repeats)


def _study(table: NDArray[np.float64], within: float, repeats: int) -> LevelStudy:
    artefacts, runs, days = table.shape
    by_day = float(table.var(axis=2, ddof=1).mean())
    by_run = float(table.mean(axis=2).var(axis=1, ddof=1).mean())
    day = Level(math.sqrt(by_day), artefacts * runs * (days - 1), by_day - within / repeats)
    run = Level(math.sqrt(by_run), artefacts * (runs - 1), by_run - by_day / days)
    return LevelStudy(
        repeatability=Level(math.sqrt(within), artefacts * runs * days * (repeats - 1), within),
        day=day,
        run=run,
        repeats=repeats,
        days=days,
        single_sd=math.sqrt(by_run + (days - 1) / days * by_day + (repeats - 1) / repeats * within),
        notes=tuple(
            f"The estimate for {name} was negative ({level.estimate:.4g}) and was set to zero."
            for name, level in (("days", day), ("runs", run))
            if level.estimate < 0
        ),
    )
