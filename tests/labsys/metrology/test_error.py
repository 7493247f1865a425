"""Error of indication: exact, the same for one point and for many."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.error import (
    NoReference,
    Reference,
    Temperatures,
    error_of_indication,
    errors_in_picometres,
    from_picometres,
    reference_length,
    to_picometres,
)
from labsys.metrology.exact import NotANumber

LENGTHS = st.integers(0, 2_000_000_000_000).map(lambda pm: Decimal(pm).scaleb(-9))
ALPHAS = st.integers(0, 25_000).map(lambda n: Decimal(n).scaleb(-9))
CELSIUS = st.integers(10_000, 30_000).map(lambda n: Decimal(n).scaleb(-3))
TEMPERATURES = st.none() | st.builds(Temperatures, CELSIUS, CELSIUS, ALPHAS, ALPHAS)


def test_plus_means_that_the_gauge_reads_too_long() -> None:
    error = error_of_indication(reading_mm=Decimal("150.10"), length_mm=Decimal("150.00"), temperatures=None)
    assert error == Decimal("0.1")
    assert error.as_tuple().exponent == -9


def test_a_stack_adds_nominals_and_deviations() -> None:
    stack = [
        Reference(Decimal("1.005"), Decimal("0.00012")),
        Reference(Decimal("1.34"), Decimal("-0.00005")),
        Reference(Decimal(50), Decimal("0.0002"), count=2),
    ]
    assert reference_length(stack) == Decimal("102.345") + Decimal("0.00047")


def test_no_reference_no_length() -> None:
    with pytest.raises(NoReference):
        reference_length([])


def test_an_aluminium_gauge_on_a_steel_standard() -> None:
    # Constructed (coefficients: aluminium 23.1, steel 11.5 ppm/K, NIST JRES 99 (1994) 31): 100 mm at 22 °C differ by
    # 2.32 µm. The gauge's scale is long when warm, so that it reads too short, and the correction is plus.
    warm = Temperatures(Decimal(22), Decimal(22), Decimal("0.0000231"), Decimal("0.0000115"))
    error = error_of_indication(reading_mm=Decimal(100), length_mm=Decimal(100), temperatures=warm)
    assert error == Decimal("0.00232")


def test_gauge_and_standard_alike_and_equally_warm_need_no_correction() -> None:
    warm = Temperatures(Decimal("23.7"), Decimal("23.7"), Decimal("0.0000115"), Decimal("0.0000115"))
    error = error_of_indication(reading_mm=Decimal("25.01"), length_mm=Decimal(25), temperatures=warm)
    assert error == Decimal("0.01")


def test_first_order_is_close_to_the_full_formula() -> None:
    # The full formula, common practice: E = r·(1 + α_i·Δt_i) − L·(1 + α_s·Δt_s).
    warm = Temperatures(Decimal(25), Decimal(22), Decimal("0.000012"), Decimal("0.0000115"))
    reading, length = Decimal("1000.10"), Decimal("1000.00")
    full = reading * (1 + warm.alpha_instrument_per_k * 5) - length * (1 + warm.alpha_standard_per_k * 2)
    ours = error_of_indication(reading_mm=reading, length_mm=length, temperatures=warm)
    assert abs(ours - full) < Decimal("0.00001")


@given(LENGTHS, LENGTHS, TEMPERATURES)
def test_arrays_never_differ_from_exact_decimals(
    reading: Decimal, length: Decimal, temperatures: Temperatures | None
) -> None:
    exact = error_of_indication(reading_mm=reading, length_mm=length, temperatures=temperatures)
    many = errors_in_picometres(np.array([float(reading)] * 2), np.array([float(length)] * 2), temperatures)
    assert many.tolist() == [to_picometres(exact)] * 2


@pytest.mark.parametrize("length_pm", [1, 3, 5, 7, 2_000_001, 150_000_000_001])
def test_a_tie_in_the_temperature_term_goes_to_even_in_arrays_too(length_pm: int) -> None:
    # A strain of exactly one half makes every odd length a tie; no real gauge is that warm.
    half = Temperatures(Decimal(25), Decimal(20), Decimal("0.1"), Decimal(0))
    length = from_picometres(length_pm)
    for reading in (Decimal(0), from_picometres(1)):
        exact = error_of_indication(reading_mm=reading, length_mm=length, temperatures=half)
        many = errors_in_picometres(np.array([float(reading)]), np.array([float(length)]), half)
        assert many[0] == to_picometres(exact)
        assert to_picometres(exact) == round(int(reading * 10**9) - length_pm / 2)


@given(st.integers(2, 120), st.sampled_from([-1, 1]))
def test_a_reading_on_the_limit_in_inches_is_never_pushed_off_it(tenths: int, sign: int) -> None:
    # From 0.2 to 12 in; in bare binary floats 40 % of these come out beyond 0.001 in.
    length = Decimal(tenths) / 10 * Decimal("25.4")
    reading = length + sign * Decimal("0.0254")
    many = errors_in_picometres(np.array([float(reading)]), np.array([float(length)]), None)
    assert many[0] == sign * 25_400_000


def test_whole_picometres_round_half_to_even() -> None:
    assert [to_picometres(Decimal(text)) for text in ("0.5e-9", "1.5e-9", "-0.5e-9", "2.5e-9")] == [
        0,
        2,
        0,
        2,
    ]
    assert to_picometres(0.0008) == 800_000
    assert from_picometres(-12_700_000) == Decimal("-0.0127")


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), Decimal("NaN"), Decimal("-Infinity")])
def test_what_is_no_number_is_refused(bad: float | Decimal) -> None:
    with pytest.raises(NotANumber):
        to_picometres(bad)
    with pytest.raises(NotANumber):
        errors_in_picometres(np.array([float(bad)]), np.array([1.0]), None)
