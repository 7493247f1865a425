"""What a simulation costs over the same draws and the same model in bare numpy, and how much memory it takes.

Run by naming the file: pytest tests/benchmarks/bench_simulation.py -s
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest

from labsys.metrology.simulation import (
    Between,
    Density,
    Form,
    Input,
    IntervalKind,
    MeasurementModel,
    Normal,
    Student,
    Wanted,
    simulate,
)
from tests.benchmarks.ratios import fastest, say

pytestmark = pytest.mark.benchmark

TRIALS = 1_000_000
MOST_OVER_BARE = 1.5
MOST_MB = 300.0
REPEATS = 7

DENSITIES: Mapping[str, Density] = {
    "L": Normal(50.0, 1e-5),
    "d": Student(0.0, 1e-5, 9.0),
    "a": Between(-1e-5, 1e-5),
    "b": Between(-2e-5, 2e-5),
    "c": Between(-1e-5, 1e-5, Form.TRIANGULAR),
    "e": Between(-1e-5, 1e-5, Form.ARCSINE),
    "alpha": Between(-1e-6, 1e-6),
    "theta": Normal(0.1, 0.2),
}


def function(x: Mapping[str, Any]) -> Any:
    """Add what adds, and the product of length, expansion and temperature."""
    return x["L"] + x["d"] + x["a"] + x["b"] + x["c"] + x["e"] - x["L"] * x["alpha"] * x["theta"]


def mixed() -> MeasurementModel:
    """Make the model of eight inputs, six densities among them."""
    return MeasurementModel(function, tuple(Input(name, one) for name, one in DENSITIES.items()))


def bare(rng: np.random.Generator) -> Any:
    """Draw the same with numpy's own distributions, each by one call, and put them through the model."""
    return function(
        {
            "L": rng.normal(50.0, 1e-5, TRIALS),
            "d": 1e-5 * rng.standard_t(9.0, TRIALS),
            "a": rng.uniform(-1e-5, 1e-5, TRIALS),
            "b": rng.uniform(-2e-5, 2e-5, TRIALS),
            "c": rng.triangular(-1e-5, 0.0, 1e-5, TRIALS),
            "e": 1e-5 * np.sin(rng.uniform(0.0, 2 * np.pi, TRIALS)),
            "alpha": rng.uniform(-1e-6, 1e-6, TRIALS),
            "theta": rng.normal(0.1, 0.2, TRIALS),
        }
    )


def all_normal() -> MeasurementModel:
    """Make a sum of eight normal inputs."""
    inputs = tuple(Input(f"x{place}", Normal(0.0, 1.0)) for place in range(8))
    return MeasurementModel(added, inputs)


def added(x: Mapping[str, Any]) -> Any:
    """Add all inputs."""
    return sum(x.values())


def bare_normal(rng: np.random.Generator) -> Any:
    """Draw and add the same in bare numpy."""
    return sum(rng.normal(0.0, 1.0, TRIALS) for _ in range(8))


@pytest.mark.parametrize(
    ("name", "make", "floor"), [("mixed", mixed, bare), ("normal", all_normal, bare_normal)]
)
@pytest.mark.parametrize("kind", list(IntervalKind))
def test_a_million_trials_of_eight_inputs(
    name: str, make: Callable[[], MeasurementModel], floor: Callable[[Any], Any], kind: IntervalKind
) -> None:
    model, wanted = make(), Wanted(0.95, kind)

    def ours(rng: np.random.Generator) -> object:
        return simulate(model, rng=rng, trials=TRIALS, wanted=wanted)

    floor_s, ours_s = fastest(
        REPEATS, lambda: floor(np.random.default_rng(1)), lambda: ours(np.random.default_rng(1))
    )
    ratio = ours_s / floor_s
    say(f"{name}, {kind}: {ours_s * 1e3:.0f} ms, {ratio:.2f} of bare numpy ({floor_s * 1e3:.0f} ms)")
    assert ratio < MOST_OVER_BARE


PROGRAM = """
import tracemalloc
from pathlib import Path
import numpy as np
from labsys.metrology.simulation import IntervalKind, Wanted, simulate, simulate_adaptively
from tests.benchmarks.bench_simulation import TRIALS, mixed
def most():
    # The most this process's own memory ever was; getrusage would count what it was forked from.
    (line,) = [one for one in Path("/proc/self/status").read_text().splitlines() if one.startswith("VmHWM")]
    return int(line.split()[1]) / 1024
before = most()
{trace}
{run}
peak = tracemalloc.get_traced_memory()[1] if tracemalloc.is_tracing() else 0
print(before, most(), peak / 2**20)
"""
FIXED = "simulate(mixed(), rng=np.random.default_rng(1), trials=TRIALS, wanted=Wanted(0.95, IntervalKind.SHORTEST))"
LONGEST = "simulate_adaptively(mixed(), rng=np.random.default_rng(1), digits=9)"
"""Never settles, so it ends at the ten million trials that are the most there may be."""


@pytest.mark.parametrize(
    ("name", "run"), [("a million trials", FIXED), ("the most trials there may be", LONGEST)]
)
def test_the_whole_process_stays_small(name: str, run: str) -> None:
    before, whole, _ = _in_a_fresh_process(run, trace="")
    # A second process counts what numpy asked for: counting changes how long it takes, not how much it is.
    _, _, allocated = _in_a_fresh_process(run, trace="tracemalloc.start()")
    say(
        f"{name}: {whole:.0f} MB for the whole process ({before:.0f} before), {allocated:.0f} MB allocated at the peak"
    )
    assert whole < MOST_MB


def _in_a_fresh_process(run: str, *, trace: str) -> list[float]:
    program = PROGRAM.format(trace=trace, run=run)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    return [float(one) for one in done.stdout.split()]
