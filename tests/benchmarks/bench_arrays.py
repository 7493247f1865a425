"""What evaluating and re-evaluating a hundred thousand points costs over the same arithmetic in bare numpy.

Run by naming the file: pytest tests/benchmarks/bench_arrays.py -s
"""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable
from statistics import NormalDist
from typing import Any

import GTC
import numpy as np
import pytest
import uncertainties
from scipy.special import stdtrit

from labsys.metrology.arrays import ComponentArrays, LimitArrays, UncertaintyArrays, combine_many
from labsys.metrology.reevaluation import ChangeArrays, ResultArrays, UseArrays, reevaluate_many
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.views import View
from tests.benchmarks.ratios import fastest, say

pytestmark = pytest.mark.benchmark

POINTS, COMPONENTS = 100_000, 8
MOST_OVER_BARE = 3.0
LEAST_FASTER = 200.0
MOST_MB = 40.0
REPEATS = 25
SINGLE = 200
PROBABILITY = 0.9545

DIVISORS = np.array([2.0, *[math.sqrt(3)] * 5, 1.0, 1.0])
SENSITIVITIES = np.array([-1.0, 1.0, 1.0, -1.0, 1.0, 1.0, 1.0, 1.0])
FREEDOMS = {"all known": np.full(8, math.inf), "two studied": np.array([math.inf] * 6 + [9.0, 40.0])}
ARE_RECTANGULAR = np.array([False, *[True] * 5, False, False])
SIZES = np.random.default_rng(20_26).uniform(1e-5, 1e-3, (POINTS, COMPONENTS)) * np.geomspace(1, 0.05, 8)


def bare_budgets(freedom: np.ndarray) -> tuple[np.ndarray, ...]:
    """Work u, ν_eff, k, U and shares out in the fewest lines of numpy, without blocks, checks or edges."""
    squares = (SIZES / DIVISORS * SENSITIVITIES) ** 2
    variance = squares.sum(axis=1)
    shares = squares / variance[:, None]
    nu, k = np.full(POINTS, math.inf), np.full(POINTS, NormalDist().inv_cdf((1 + PROBABILITY) / 2))
    if np.isfinite(freedom).any():
        nu = np.maximum(1.0, np.floor(1 / (shares**2 / freedom).sum(axis=1) + 1e-9))
        known, places = np.unique(nu, return_inverse=True)
        k = stdtrit(known, (1 + PROBABILITY) / 2)[places]
    rectangles = np.sort(squares[:, ARE_RECTANGULAR], axis=1)
    first, second = rectangles[:, -1], rectangles[:, -2]
    others = squares[:, ~ARE_RECTANGULAR].max(axis=1)
    one = variance - first <= 0.09 * first
    lead = first + second
    beta = (np.sqrt(first) - np.sqrt(second)) / (np.sqrt(first) + np.sqrt(second))
    two = ~one & (variance - lead <= 0.09 * lead) & (second > others) & (2 * beta / (1 + beta) < PROBABILITY)
    trapezoid = (1 - np.sqrt((1 - PROBABILITY) * (1 - beta**2))) / np.sqrt((1 + beta**2) / 6)
    k = np.where(one, PROBABILITY * math.sqrt(3), np.where(two, trapezoid, k))
    u = np.sqrt(variance)
    return u, nu, k, k * u, shares


def by_uncertainties(row: np.ndarray) -> float:
    """Evaluate one point with `uncertainties`: u of a linear sum, no ν, k or shares."""
    total = sum(
        c * uncertainties.ufloat(0.0, s / d) for c, s, d in zip(SENSITIVITIES, row, DIVISORS, strict=True)
    )
    return float(total.std_dev)


def by_gtc(row: np.ndarray) -> tuple[float, float]:
    """Evaluate one point with GTC: u and ν_eff of a linear sum, no k or shares."""
    total = sum(
        c * GTC.ureal(0.0, s / d, nu)
        for c, s, d, nu in zip(SENSITIVITIES, row, DIVISORS, FREEDOMS["two studied"], strict=True)
    )
    return float(GTC.uncertainty(total)), float(GTC.dof(total))


def components(freedom: str = "two studied") -> ComponentArrays:
    """Make the budgets of a hundred thousand points."""
    return ComponentArrays(SIZES, DIVISORS, SENSITIVITIES, FREEDOMS[freedom], ARE_RECTANGULAR)


@pytest.mark.parametrize("freedom", FREEDOMS)
def test_a_hundred_thousand_budgets_over_bare_numpy(freedom: str) -> None:
    given = components(freedom)
    ours, bare = combine_many(given), bare_budgets(FREEDOMS[freedom])
    for name, expected in zip(("u_mm", "nu_used", "k", "U_mm", "shares"), bare, strict=True):
        assert np.allclose(getattr(ours, name), expected, rtol=1e-12)
    assert {0, 1, 2} == set(ours.shapes.tolist()), "every shape should have its points"
    floor, taken = fastest(REPEATS, lambda: bare_budgets(FREEDOMS[freedom]), lambda: combine_many(given))
    say(
        f"budgets, ν {freedom}: {taken * 1e3:.1f} ms, {taken / floor:.2f} of bare numpy ({floor * 1e3:.1f} ms)"
    )
    assert taken / floor < MOST_OVER_BARE


@pytest.mark.parametrize("single", [by_uncertainties, by_gtc])
def test_a_point_among_many_over_a_point_alone(single: Callable[[np.ndarray], Any]) -> None:
    given, rows = components(), SIZES[:SINGLE]
    ours = combine_many(given)
    for row, u in zip(rows, ours.u_mm, strict=False):
        found = single(row)
        assert (found[0] if isinstance(found, tuple) else found) == pytest.approx(u)
    many, alone = fastest(REPEATS, lambda: combine_many(given), lambda: [single(row) for row in rows])
    ratio = (alone / SINGLE) / (many / POINTS)
    say(f"a point: {many / POINTS * 1e9:.0f} ns, {ratio:.0f} times faster than {single.__name__}")
    assert ratio > LEAST_FASTER


def stored() -> tuple[ResultArrays, UseArrays, ChangeArrays]:
    """Make a hundred thousand results on fifty standards, their changes and windows."""
    rng = np.random.default_rng(3)
    limits = LimitArrays(np.full(POINTS, -4_000_000), np.full(POINTS, 4_000_000))
    results = ResultArrays(
        rng.integers(-4_500_000, 4_500_000, POINTS),
        rng.integers(738_000, 739_000, POINTS),
        limits,
        UncertaintyArrays.normal(rng.uniform(0.0005, 0.001, POINTS)),
        (Rule(RuleKind.GUARDED, View.CALIBRATION),),
        np.zeros(POINTS, np.int64),
    )
    uses = UseArrays(np.arange(POINTS), rng.integers(0, 50, POINTS), np.full(POINTS, -1))
    days = rng.integers(738_000, 738_400, 50), rng.integers(738_500, 739_000, 50)
    return results, uses, ChangeArrays(rng.integers(-(10**6), 10**6, 50), *days)


def bare_reevaluation(
    results: ResultArrays, uses: UseArrays, changes: ChangeArrays
) -> tuple[np.ndarray, ...]:
    """Carry, both ways, and judge before and after in the fewest lines of numpy: one level, one rule, no checks."""
    good, found = changes.good_days[uses.sources], changes.found_days[uses.sources]
    delta = changes.deltas_pm[uses.sources] * (results.days >= good)
    elapsed = np.minimum(results.days - good, found - good)
    in_time = np.rint(delta * elapsed / (found - good)).astype(np.int64)
    guard = np.rint(results.uncertainty.U_mm * 1e9).astype(np.int64)
    lower, upper = results.limits.lower_pm, results.limits.upper_pm
    inner_lower, inner_upper = lower + guard, upper - guard
    answer: list[np.ndarray] = []
    for values in (
        results.values_pm,
        results.values_pm + uses.sensitivities * delta,
        results.values_pm + uses.sensitivities * in_time,
    ):
        accepted = (inner_lower <= values) & (values <= inner_upper)
        within = (lower <= values) & (values <= upper)
        answer += [values, np.where(accepted, 0, np.where(within, 3, 5))]
    flips = np.flatnonzero((answer[3] != answer[1]) | (answer[5] != answer[1]))
    return (*answer, flips)


def test_a_hundred_thousand_stored_points_re_evaluated_over_bare_numpy() -> None:
    given = stored()
    bare, ours = bare_reevaluation(*given), reevaluate_many(*given)
    for place, values in enumerate((ours.before, ours.worst, ours.interpolated)):
        assert (values.values_pm == bare[2 * place]).all()
        assert (values.verdicts == bare[2 * place + 1]).all()
    assert (ours.flips == bare[6]).all() and len(ours.flips)
    floor, taken = fastest(REPEATS, lambda: bare_reevaluation(*given), lambda: reevaluate_many(*given).flips)
    say(f"re-evaluation: {taken * 1e3:.1f} ms, {taken / floor:.2f} of bare numpy ({floor * 1e3:.1f} ms)")
    assert taken / floor < MOST_OVER_BARE


PROGRAM = """
from pathlib import Path
import numpy as np
import scipy.special
def most():
    # The most this process's own memory ever was; getrusage would count what it was forked from.
    (line,) = [one for one in Path("/proc/self/status").read_text().splitlines() if one.startswith("VmHWM")]
    return int(line.split()[1]) / 1024
from labsys.metrology.arrays import ComponentArrays, combine_many
points, columns = 400_000, 8
sizes = np.random.default_rng(1).uniform(1e-5, 1e-3, (points, columns))
ones = np.ones(columns)
given = ComponentArrays(sizes, ones, ones, np.full(columns, 12.0), np.zeros(columns, bool), np.zeros(columns, int))
combine_many(given.at(slice(0, 10)))
room = points * (columns + 6) * 8 + points
before = most()
found = combine_many(given)
print(most() - before - room / 2**20)
"""


def test_memory_beyond_the_answer_is_that_of_a_block() -> None:
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
    beyond = float(done.stdout)
    say(f"400,000 budgets: {beyond:.0f} MB beyond input and answer")
    assert beyond < MOST_MB
