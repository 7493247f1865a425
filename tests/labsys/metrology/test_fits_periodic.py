"""The periodic error of a scale: what was put in comes out, aliasing is refused by name."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from labsys.metrology.fits.least_squares import Scatter, TooFewPoints, Undetermined
from labsys.metrology.fits.periodic import PhasesTooFew, fit_periodic, phases
from labsys.metrology.fits.series import SeriesUnusable

PITCH = 5.08
# The caliper lengths of gauge-practice: they fall at different places of an electronic scale's pattern.
LENGTHS = [0.0, 10.2, 25.9, 41.3, 63.7, 90.0, 101.1, 131.4, 150.0]


@settings(max_examples=40, deadline=None)
@given(
    st.floats(1e-4, 0.1),
    st.floats(-math.pi, math.pi),
    st.floats(-0.1, 0.1),
    st.floats(-1e-3, 1e-3),
    st.booleans(),
)
def test_what_was_put_in_comes_out(
    amplitude: float, phase: float, offset: float, trend: float, with_trend: bool
) -> None:
    x = np.array(LENGTHS)
    slope = trend if with_trend else 0.0
    y = offset + slope * (x - x.mean()) + amplitude * np.sin(2 * np.pi * x / PITCH + phase)
    found = fit_periodic(LENGTHS, y.tolist(), period=PITCH, with_trend=with_trend)
    assert found.amplitude == pytest.approx(amplitude, rel=1e-9)
    assert found.phase is not None
    assert math.cos(found.phase - phase) == pytest.approx(1.0, abs=1e-12)
    assert found.offset == pytest.approx(offset, abs=1e-12)
    assert found.trend == (pytest.approx(trend, abs=1e-13) if with_trend else None)
    assert [found.error(place) for place in LENGTHS] == pytest.approx(y, abs=1e-12)


def test_uncertainties_against_a_fit_in_amplitude_and_phase_themselves() -> None:
    rng = np.random.default_rng(8)
    x = np.sort(rng.uniform(0, 150, 40))
    y = 0.01 + 1e-4 * x + 0.02 * np.sin(2 * np.pi * x / PITCH + 0.7) + 0.002 * rng.standard_normal(40)
    found = fit_periodic(x.tolist(), y.tolist(), period=PITCH, with_trend=True)

    def model(place: npt.NDArray[np.float64], a: float, phi: float, c: float, t: float) -> object:
        return c + t * (place - x.mean()) + a * np.sin(2 * np.pi * place / PITCH + phi)

    best, covariance = optimize.curve_fit(model, x, y, p0=[0.02, 0.7, 0.01, 0.0], xtol=1e-14, ftol=1e-14)
    assert (found.amplitude, found.phase, found.offset, found.trend) == pytest.approx(best, rel=1e-6)
    spread = np.sqrt(np.diag(covariance))
    assert (found.u_amplitude, found.u_phase) == pytest.approx(spread[:2], rel=1e-4)
    assert found.u_trend == pytest.approx(spread[3], rel=1e-4)


def test_spread_of_amplitude_and_phase_by_simulation() -> None:
    rng = np.random.default_rng(17)
    x, s = np.array(LENGTHS), 0.001
    clean = 0.01 * np.sin(2 * np.pi * x / PITCH + 1.1)
    u = [s] * len(x)
    runs = [
        fit_periodic(
            LENGTHS,
            (clean + s * rng.standard_normal(x.size)).tolist(),
            period=PITCH,
            u=u,
            scatter=Scatter.STATED,
        )
        for _ in range(1500)
    ]
    seen = np.array([(run.amplitude, run.phase) for run in runs]).std(axis=0, ddof=1)
    # standard error of a standard deviation from 1500 runs: 1.8 %
    assert (runs[0].u_amplitude, runs[0].u_phase) == pytest.approx(seen, rel=0.1)


def test_the_p_value_is_that_of_the_nested_models() -> None:
    rng = np.random.default_rng(21)
    y = 0.003 * np.sin(2 * np.pi * np.array(LENGTHS) / PITCH) + 0.003 * rng.standard_normal(9)
    found = fit_periodic(LENGTHS, y.tolist(), period=PITCH)
    smaller, larger = float(np.sum((y - y.mean()) ** 2)), found.solution.s**2 * 6
    assert found.p_value == pytest.approx(stats.f.sf((smaller - larger) / 2 / (larger / 6), 2, 6), rel=1e-9)
    stated = fit_periodic(LENGTHS, y.tolist(), period=PITCH, u=[0.003] * 9, scatter=Scatter.STATED)
    assert stated.p_value == pytest.approx(stats.chi2.sf((smaller - larger) / 0.003**2, 2), rel=1e-9)


def test_p_values_of_pure_scatter_are_even() -> None:
    rng = np.random.default_rng(5)
    values = [
        fit_periodic(LENGTHS, rng.standard_normal(9).tolist(), period=PITCH).p_value for _ in range(1000)
    ]
    assert stats.kstest(values, "uniform").pvalue > 0.01


@pytest.mark.parametrize("period", [25.0, 5.0, 2.5, 0.5])
def test_whole_turns_see_nothing(period: float) -> None:
    with pytest.raises(PhasesTooFew, match=r"found 1: 0\.000"):
        fit_periodic([25, 50, 75, 100, 125], [0.01, 0.02, 0.0, 0.01, 0.03], period=period)


def test_two_phases_are_too_few_and_decimals_are_no_phases() -> None:
    with pytest.raises(PhasesTooFew, match="found 2"):
        fit_periodic([0, 12.5, 25, 37.5], [0, 1, 0, 1], period=25)
    # 0.1 + 0.2 is not 0.3 in binary; the same phase all the same.
    with pytest.raises(PhasesTooFew, match="found 1"):
        fit_periodic([0.1 + 0.2, 0.3, 0.6, 0.9], [0, 1, 0, 1], period=0.1)


def test_three_phases_are_enough_for_an_offset_and_a_sinusoid() -> None:
    found = fit_periodic([0, 2, 4, 6, 8], [0, 0.1, 0.2, 0.0, 0.1], period=6)
    assert found.solution.nu == 2
    with pytest.raises(TooFewPoints):
        fit_periodic([0, 2, 4], [0, 0.1, 0.2], period=6)


def test_a_trend_that_looks_like_the_sinusoid() -> None:
    with pytest.raises(Undetermined):
        fit_periodic([0, 2, 4, 0, 2, 4], [0, 1, 2, 0, 1, 2], period=6, with_trend=True)


def test_no_periodic_error_has_no_phase() -> None:
    found = fit_periodic(LENGTHS, [0.0] * 9, period=PITCH)
    assert (found.amplitude, found.phase, found.u_phase, found.p_value) == (0.0, None, None, None)


def test_phases_of_lengths() -> None:
    # gauge-practice, calipers: 41.3 lies at 0.13, 90 at 0.72, 131.4 at 0.87, 150 at 0.53 of a period of 5.08 mm.
    assert phases([41.3, 90, 131.4, 150], 5.08) == pytest.approx([0.13, 0.72, 0.87, 0.53], abs=0.005)


@pytest.mark.parametrize("period", [0.0, -5.08, math.nan, math.inf])
def test_a_period_is_above_zero(period: float) -> None:
    with pytest.raises(SeriesUnusable, match="period"):
        fit_periodic(LENGTHS, [0.0] * 9, period=period)
