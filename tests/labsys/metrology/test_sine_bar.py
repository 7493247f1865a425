"""The sine bar against the textbook, and its uncertainty by two other methods."""

from __future__ import annotations

import math
from typing import Any

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat
from uncertainties.umath import asin

from labsys.metrology.questions.asking import answer_file
from labsys.metrology.sine_bar import ARC_SECONDS, NoSineBar, height_for, sine_bar

LENGTHS = st.sampled_from([100.0, 127.0, 200.0, 254.0, 300.0])
ANGLES = st.floats(1.0, 75.0)


def test_half_the_length_is_thirty_degrees() -> None:
    found = sine_bar(50, 100, u_height_mm=0.0005, u_length_mm=0.001)
    assert found.angle == pytest.approx(30, abs=1e-12)
    # Worked by hand: both parts are 0.0005/(100·cos 30°) rad = 1.1908″.
    assert found.u_seconds == pytest.approx(1.1908 * math.sqrt(2), rel=1e-4)


@given(LENGTHS, ANGLES)
def test_the_height_for_an_angle_gives_the_angle_back(length: float, angle: float) -> None:
    assert sine_bar(height_for(angle, length), length).angle == pytest.approx(angle, abs=1e-9)


@given(LENGTHS, ANGLES, st.floats(1e-5, 0.01), st.floats(1e-5, 0.01))
def test_its_uncertainty_is_that_of_two_other_methods(
    length: float, angle: float, u_height: float, u_length: float
) -> None:
    height = height_for(angle, length)
    found = sine_bar(height, length, u_height_mm=u_height, u_length_mm=u_length)
    by_gtc = GTC.asin(GTC.ureal(height, u_height) / GTC.ureal(length, u_length))
    other: Any = asin(ufloat(height, u_height) / ufloat(length, u_length))
    assert found.u_seconds == pytest.approx(float(GTC.uncertainty(by_gtc)) * ARC_SECONDS, rel=1e-9)
    assert found.u_seconds == pytest.approx(other.std_dev * ARC_SECONDS, rel=1e-9)


@pytest.mark.parametrize(
    ("height", "length"), [(0, 100), (100, 100), (-5, 100), (math.nan, 100), (5, math.inf)]
)
def test_no_such_height_is_refused(height: float, length: float) -> None:
    with pytest.raises(NoSineBar, match="between the rollers"):
        sine_bar(height, length)


def test_a_question_takes_the_angle_as_it_is_written() -> None:
    question = {"kind": "sine_bar", "length": 100, "angle": "12°30′", "U_height": "1 µm", "U_length": "2 µm"}
    values: Any = answer_file({"questions": [question]})["answers"][0]["values"]  # type: ignore[index,call-overload]
    assert values["height"] == pytest.approx(100 * math.sin(math.radians(12.5)))
    assert values["degrees_minutes_seconds"] == "12°30′0.00″" and values["is_steep"] is False
    assert values["U"] == pytest.approx(
        ARC_SECONDS
        * math.hypot(0.001 / (100 * math.cos(math.radians(12.5))), 0.002 * math.tan(math.radians(12.5)) / 100)
    )
