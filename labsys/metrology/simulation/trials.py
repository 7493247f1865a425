"""Many trials of a model: a fixed number, or as many as settle the wanted digits.

Lives here: running trials in blocks, what the values say, when they have settled (JCGM 101:2008, 7). May not live
here: densities, interval rules, comparisons.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from labsys.errors import LabError
from labsys.metrology.coverage import NoSpread
from labsys.metrology.simulation.drawing import Drawer
from labsys.metrology.simulation.intervals import CoverageInterval, Wanted, interval_of
from labsys.metrology.simulation.model import MeasurementModel
from labsys.metrology.simulation.stability import Stability, Summary, pooled_u, stability_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray

USUAL_TRIALS: Final = 1_000_000
"""Often enough for two digits of a 95 % interval (JCGM 101:2008, 7.2.2, note 1)."""

MOST_TRIALS: Final = 10_000_000
"""Beyond this the kept values alone take more than 80 MB."""

BLOCK: Final = 25_000
"""Trials drawn at a time: their inputs stay in a processor's cache, whatever the number of trials."""

SMALLEST_BATCH: Final = 10_000


class TrialsOutOfRange(LabError, ValueError):
    """Fewer trials than an interval needs, or more than memory is set aside for."""

    code = "trials-out-of-range"
    sentence = (
        "Expected {least} to {most} trials for a coverage probability of {probability:g}, found {found}. Choose a "
        "number within, or a lower probability."
    )


class ModelFailed(LabError, ValueError):
    """A model that gave something else than one finite number for each trial."""

    code = "model-failed"
    sentence = (
        "Expected of the model one finite number for each trial, found {found}. Look at the model and at the limits "
        "of its inputs."
    )


@dataclass(frozen=True, slots=True)
class Simulation:
    """What the trials say: estimate ``y``, standard uncertainty ``u`` (7.6), the coverage interval (7.7).

    ``blocks`` of at most ``block`` trials were drawn. ``stability`` is None for a fixed number of trials.
    """

    y: float
    u: float
    interval: CoverageInterval
    trials: int
    blocks: int
    block: int
    stability: Stability | None = None

    @property
    def source(self) -> str:
        """Name document and clause."""
        return "JCGM 101:2008, " + ("7.2 to 7.7" if self.stability is None else "7.9.4")


def simulate(
    model: MeasurementModel,
    *,
    rng: np.random.Generator,
    trials: int = USUAL_TRIALS,
    wanted: Wanted | None = None,
    block: int = BLOCK,
) -> Simulation:
    """Run ``trials`` of ``model`` in blocks of ``block``; the same ``rng`` and block give the same result.

    Trials: 100/(1 − p) to 10 000 000. Memory: the values, 8 bytes a trial, and the inputs of one block. Raises
    TrialsOutOfRange, ModelFailed, NoSpread, ImpossibleCorrelation (JCGM 101:2008, 7.2 to 7.7).
    """
    asked = wanted or Wanted()
    _require_trials(trials, asked, MOST_TRIALS)
    values = _values(model, Drawer(model), rng, trials, block)
    said = _summary(values, asked)
    return Simulation(said.y, said.u, said.interval, trials, math.ceil(trials / block), block)


def simulate_adaptively(
    model: MeasurementModel,
    *,
    rng: np.random.Generator,
    digits: int = 2,
    wanted: Wanted | None = None,
    tolerance_share: float = 1.0,
    most_trials: int = MOST_TRIALS,
) -> Simulation:
    """Run batches of trials until y, u and both ends are settled to ``digits`` significant digits of u.

    Settled: twice the standard deviation of the batches' average is at most δ times ``tolerance_share`` for all
    four (JCGM 101:2008, 7.9.4; a share of 1/5 for the comparison of clause 8.2). A batch is the larger of 10 000 and
    100/(1 − p). Where ``most_trials`` end it first, the result's ``stability.is_stable`` is false. Raises
    TrialsOutOfRange, ModelFailed, NoSpread, ImpossibleCorrelation, BadDigits.
    """
    asked = wanted or Wanted()
    batch = max(_least_trials(asked), SMALLEST_BATCH)
    _require_trials(most_trials, asked, MOST_TRIALS, least=2 * batch)
    drawer, kept, said = Drawer(model), [], []
    stability = None
    while stability is None or not (stability.is_stable or (len(kept) + 1) * batch > most_trials):
        kept.append(_values(model, drawer, rng, batch, BLOCK))
        said.append(_summary(kept[-1], asked))
        if len(said) > 1:
            stability = stability_of(said, batch, digits, tolerance_share)
    return _together(kept, said, asked, stability)


def _together(
    kept: list[NDArray[np.float64]], said: list[Summary], asked: Wanted, stability: Stability
) -> Simulation:
    """Take estimate, u and interval from the values of all batches (7.9.4 l)."""
    import numpy as np

    batch, batches = kept[0].size, len(kept)
    y = math.fsum(one.y for one in said) / batches
    u = pooled_u(said, batch)
    values = np.concatenate(kept)
    kept.clear()
    blocks = batches * math.ceil(batch / BLOCK)
    return Simulation(y, u, interval_of(values, asked), values.size, blocks, min(BLOCK, batch), stability)


def _least_trials(asked: Wanted) -> int:
    """Give J, the smallest whole number of at least 100/(1 − p) (7.9.4 b)."""
    return math.ceil(100 / (1 - asked.probability) * (1 - 1e-12))


def _require_trials(found: int, asked: Wanted, most: int, least: int | None = None) -> None:
    lowest = _least_trials(asked) if least is None else least
    if not lowest <= found <= most:
        raise TrialsOutOfRange(least=lowest, most=most, probability=asked.probability, found=found)


def _values(
    model: MeasurementModel, drawer: Drawer, rng: np.random.Generator, trials: int, block: int
) -> NDArray[np.float64]:
    import numpy as np

    values = np.empty(trials)
    with np.errstate(all="ignore"):  # what isn't finite is refused by name below
        for start, count in _blocks(trials, block):
            found = np.asarray(model.function(drawer.block(rng, count)))
            if found.shape != (count,):
                raise ModelFailed(found=f"an array of shape {found.shape} for {count} trials")
            values[start : start + count] = found
    if not np.isfinite(values).all():
        raise ModelFailed(found=f"{int((~np.isfinite(values)).sum())} of {trials} not finite")
    return values


def _blocks(trials: int, block: int) -> Iterator[tuple[int, int]]:
    for start in range(0, trials, block):
        yield start, min(block, trials - start)


def _summary(values: NDArray[np.float64], asked: Wanted) -> Summary:
    import numpy as np

    with np.errstate(all="ignore"):  # a sum that leaves the numbers is refused by name
        y = float(values.mean())
        u = float(values.std(ddof=1, mean=y))
    if not (math.isfinite(y) and math.isfinite(u)):
        raise ModelFailed(found="values too large to add up")
    if u == 0:
        raise NoSpread(where=" in the simulation")
    return Summary(y, u, interval_of(values, asked))
