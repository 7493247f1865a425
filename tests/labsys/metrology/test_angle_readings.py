"""Angles as protractors show them: typed, kept in arc seconds, written, asked about."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.angle_readings import AngleMisread, AngleOutOfRange, angle_text, enter_angle
from labsys.metrology.angles import AngleUnreadable
from labsys.metrology.error import error_of_indication
from labsys.metrology.plausibility import implausibilities
from labsys.metrology.readings import MoreDigitsThanShown, parse_reading
from labsys.metrology.transmissions import parse_transmission
from labsys.metrology.units import Quantity, Unit, to_mm
from labsys.pages import figures

D = Decimal
GAP = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("45 05", 2705), ("45°05′", 2705), ("45° 5'", 2705), ("45°05", 2705), ("45°", 2700), ("5'", 5), ("0", 0),
        ("-0 05", -5), ("−45 05", -2705), ("+0°10′", 10), ("360 00", 21600), ("0°", 0),
    ],
)  # fmt: skip
def test_a_vernier_is_typed_in_degrees_and_minutes(text: str, minutes: int) -> None:
    found = parse_reading(text, unit=Unit.ARCMIN, step=D(5))
    assert found.value == minutes and found.value_mm == minutes * 60


@pytest.mark.parametrize("text", ["45.05", "45", "5", "45 60", "45°05′30″", "45-05", "", "x", "1e3"])
def test_what_can_be_meant_two_ways_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(AngleMisread, match="Type it as in 45 05 or 45°05′"):
        parse_reading(text, unit=Unit.ARCMIN, step=D(5))


@pytest.mark.parametrize(
    ("text", "seconds"), [("45.01", 162_036), ("45,01°", 162_036), ("-0.01", -36), ("360", 1_296_000)]
)
def test_a_display_is_typed_in_degrees_with_decimals(text: str, seconds: int) -> None:
    assert parse_reading(text, unit=Unit.DEG, step=D("0.01")).value_mm == seconds


def test_a_display_of_decimals_takes_no_minutes_and_no_more_digits() -> None:
    with pytest.raises(AngleMisread, match="degrees with decimals"):
        parse_reading("45°05′", unit=Unit.DEG, step=D("0.01"))
    with pytest.raises(MoreDigitsThanShown):
        parse_reading("45.001", unit=Unit.DEG, step=D("0.01"))


@pytest.mark.parametrize("text", ["400°", "361 00", "-360°05′"])
def test_more_than_a_turn_is_refused(text: str) -> None:
    with pytest.raises(AngleOutOfRange, match="360°"):
        parse_reading(text, unit=Unit.ARCMIN, step=D(5))


@given(st.integers(-21_600, 21_600))
def test_what_is_written_is_read_back(minutes: int) -> None:
    seconds = D(60 * minutes)
    assert parse_reading(angle_text(seconds, Unit.ARCMIN), unit=Unit.ARCMIN, step=D(1)).value_mm == seconds


@given(st.integers(-36_000, 36_000))
def test_hundredths_of_a_degree_are_whole_in_arc_seconds(hundredths: int) -> None:
    found = parse_reading(f"{D(hundredths) / 100:f}", unit=Unit.DEG, step=D("0.01"))
    assert found.value_mm == 36 * hundredths and found.value_mm == found.value_mm.to_integral_value()


def test_an_error_on_the_limit_is_an_exact_number() -> None:
    # 30.1° against 30°: in binary fractions the difference is not 0.1.
    reading, limit = to_mm(D("30.1"), Unit.DEG), to_mm(D("0.1"), Unit.DEG)
    error = error_of_indication(reading_mm=reading, length_mm=D(108_000), temperatures=None)
    assert error == limit == 360 and 30.1 - 30 != 0.1


@pytest.mark.parametrize(
    ("seconds", "unit", "text"),
    [
        ("162300", Unit.ARCMIN, "45° 05′"), ("-300", Unit.ARCMIN, "−0° 05′"), ("162036", Unit.DEG, "45.01°"),
        ("162000.3", Unit.ARCMIN, "45° 00′ 00.3″"), ("162000.3", Unit.DEG, "45° 00′ 00.3″"),
        ("0", Unit.ARCMIN, "0° 00′"), ("36", Unit.ARCSEC, "0° 00′ 36″"),
    ],
)  # fmt: skip
def test_an_angle_is_written_as_its_scale_shows_it(seconds: str, unit: Unit, text: str) -> None:
    assert angle_text(D(seconds), unit) == text.replace(" ", GAP)


def test_no_gap_stands_before_the_marks_of_angles() -> None:
    assert figures.amount(D(300), Unit.ARCMIN) == "5′" and figures.amount(D(36), Unit.DEG) == "0.01°"
    assert figures.size(D("41.3"), Unit.MM) == f"41.3{GAP}mm" and figures.marked(D(-300)) == "−5′"


@pytest.mark.parametrize(
    ("text", "seconds"), [("45", 162_000), ("45°30′", 163_800), ("−5′", -300), ("0.3″", "0.3"), ("1,5", 5400)]
)
def test_angles_are_entered_with_their_marks_or_in_the_unit_that_is_said(text: str, seconds: str) -> None:
    assert enter_angle(text, unmarked=Unit.DEG) == D(seconds)


@pytest.mark.parametrize("text", ["abc", "45°70′", "", "12°30.5′15″"])
def test_what_is_no_angle_is_refused_where_it_is_entered(text: str) -> None:
    with pytest.raises(AngleUnreadable):
        enter_angle(text, unmarked=Unit.DEG)


@pytest.mark.parametrize(
    ("text", "expected", "codes"),
    [
        ("46 00", 45, ["whole-degrees"]), ("55 05", 45, ["whole-degrees"]), ("135 00", 45, ["supplement"]),
        ("60 00", 30, ["complement"]), ("0 45", 45, ["factor-of-60"]), ("45 00", 45, []), ("45 25", 45, []),
        ("75 00", 15, ["complement"]), ("90 00", 90, []), ("45 40", 45, []), ("0 00", 90, ["complement"]),
    ],
)  # fmt: skip
def test_slips_of_a_vernier_are_asked_about(text: str, expected: int, codes: list[str]) -> None:
    parsed = parse_reading(text, unit=Unit.ARCMIN, step=D(5))
    found = implausibilities(parsed, step=D(5), expected_mm=D(3600 * expected))
    assert [one.code for one in found] == codes


def test_a_reading_between_the_lines_is_asked_about_in_degrees_and_minutes() -> None:
    parsed = parse_reading("45 02", unit=Unit.ARCMIN, step=D(5))
    [asked] = implausibilities(parsed, step=D(5), expected_mm=D(162_000))
    assert asked.sentence == f"45°{GAP}02′ is no multiple of 5′. Does the gauge show exactly this?"


@pytest.mark.parametrize(
    ("sent", "unit", "seconds"), [("+045.01\r\n", Unit.DEG, 162_036), ("45°05'\r", Unit.ARCMIN, 162_300)]
)
def test_a_cable_sends_an_angle(sent: str, unit: Unit, seconds: int) -> None:
    assert parse_transmission(sent, unit=unit, step=D("0.01")).value_mm == seconds


def test_the_base_unit_of_each_quantity() -> None:
    assert Quantity.ANGLE.base is Unit.ARCSEC and Quantity.LENGTH.base is Unit.MM
    assert all(unit.factor_mm.denominator == 1 for unit in Quantity.ANGLE.units)
