"""The corridor's geometry, in numbers: nothing clipped, in order, the band as wide as it may be."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from labsys.pages.corridor import BOXES, Corridor, CorridorData, Earlier, UnknownBox, UnknownVerdict, draw
from labsys.pages.corridor.data import VERDICTS, UnknownUnit, box
from labsys.pages.corridor.drawing import hatching
from labsys.pages.corridor.numerals import width
from labsys.pages.corridor.scale import fit, tick_step, ticks

D = Decimal
OUTSIDE = CorridorData(
    label="Outside, 100 mm",
    error_mm=D("0.012"),
    U_mm=D("0.006"),
    lower_mm=D("-0.030"),
    upper_mm=D("0.030"),
    acceptance_lower_mm=D("-0.024"),
    acceptance_upper_mm=D("0.024"),
    verdict="in_tolerance",
    step_text="0.01",
)

lengths = st.decimals(min_value=-50, max_value=50, places=6)
spreads = st.one_of(st.none(), st.decimals(min_value=0, max_value=50, places=6))


@st.composite
def results(draw_from: st.DrawFn) -> CorridorData:
    """Any result: with both, one or no limit, guarded or not, adjusted or not, in any unit."""
    lower = draw_from(st.one_of(st.none(), lengths))
    upper = draw_from(st.one_of(st.none(), lengths))
    assume(lower is None or upper is None or lower <= upper)
    guard = draw_from(st.decimals(min_value=0, max_value=1, places=6))
    earlier = draw_from(st.one_of(st.none(), st.builds(Earlier, lengths, st.sampled_from(VERDICTS))))
    return CorridorData(
        label="any",
        error_mm=draw_from(lengths),
        U_mm=draw_from(spreads),
        lower_mm=lower,
        upper_mm=upper,
        acceptance_lower_mm=None if lower is None else lower + guard,
        acceptance_upper_mm=None if upper is None else upper - guard,
        verdict=draw_from(st.sampled_from([*VERDICTS, None])),
        unit=draw_from(st.sampled_from(["mm", "in", "µm"])),
        as_found=earlier,
    )


def numbers(path: str) -> list[float]:
    return [float(text) for text in re.findall(r"-?\d+(?:\.\d+)?", path)]


def reach(drawn: Corridor) -> list[float]:
    """Every x that is drawn, with the marks' and numerals' own widths."""
    found = [drawn.walls[0].x, drawn.walls[1].x, *drawn.acceptance, *(x for x, _ in drawn.ticks)]
    found += [drawn.zero] if drawn.zero is not None else []
    for mark in (drawn.mark, drawn.earlier):
        if mark:
            extra = mark.radius + (2 if mark is drawn.mark else 0.75)
            found += [mark.x - extra, mark.x + extra]
    if drawn.whisker:
        found += [drawn.whisker.start - 1, drawn.whisker.end + 1]
    for cut in drawn.cuts:
        found += numbers(cut.gap)[0::2]
    for text in drawn.texts:
        found += [text.x, text.x + width(text.text, drawn.box.font)]
    return found + numbers(drawn.guard)[0::2]


@pytest.mark.parametrize("name", BOXES)
@given(data=results())
def test_nothing_is_clipped(name: str, data: CorridorData) -> None:
    drawn = draw(data, box_name=name)
    assert min(reach(drawn)) >= 0
    assert max(reach(drawn)) <= drawn.box.width
    heights = numbers(drawn.guard)[1::2] + [y for cut in drawn.cuts for y in numbers(cut.gap)[1::2]]
    heights += [drawn.mark.y - drawn.mark.radius - 2, drawn.mark.y + drawn.mark.radius + 2]
    if drawn.whisker:
        heights += [drawn.whisker.y - drawn.whisker.cap, drawn.whisker.y + drawn.whisker.cap]
    heights += [text.y for text in drawn.texts] + [text.y - 0.75 * drawn.box.font for text in drawn.texts]
    assert min(heights) >= 0
    assert max(heights) <= drawn.box.height


@given(data=results())
def test_the_picture_keeps_the_order_of_values(data: CorridorData) -> None:
    """What lies farther right is greater, break or not, so the picture never lies about a side."""
    drawn = draw(data, box_name="bench")
    if data.upper_mm is not None and data.lower_mm != data.upper_mm:
        right = drawn.walls[1].x
        assert (drawn.mark.x >= right) if data.error_mm > data.upper_mm else (drawn.mark.x <= right)
    if data.lower_mm is not None and data.lower_mm != data.upper_mm:
        left = drawn.walls[0].x
        assert (drawn.mark.x <= left) if data.error_mm < data.lower_mm else (drawn.mark.x >= left)
    if drawn.whisker:
        assert drawn.whisker.start <= drawn.mark.x <= drawn.whisker.end


@given(data=results())
def test_the_band_is_between_24_and_60_per_cent(data: CorridorData) -> None:
    drawn = draw(data, box_name="bench")
    assert 0.24 - 1e-9 <= drawn.share <= 0.60 + 1e-9
    both = data.lower_mm is not None and data.upper_mm is not None and data.lower_mm < data.upper_mm
    if both:
        assert drawn.walls[1].x - drawn.walls[0].x == pytest.approx(drawn.share * 640, abs=0.03)


@given(data=results())
def test_ticks_are_eight_to_fourteen_in_steps_of_1_2_5(data: CorridorData) -> None:
    drawn = draw(data, box_name="bench")
    assert 8 <= len(drawn.ticks) <= 14
    gaps = [b - a for (a, _), (b, _) in zip(drawn.ticks, drawn.ticks[1:], strict=False)]
    assert max(gaps) - min(gaps) <= 0.03
    long = [number for number, (_, is_long) in enumerate(drawn.ticks) if is_long]
    assert {b - a for a, b in zip(long, long[1:], strict=False)} <= {5}
    assert long


@pytest.mark.parametrize(
    ("span", "step"),
    [(0.0613, 0.005), (0.092, 0.01), (8, 1), (7.99, 0.5), (40, 5), (39.9, 2), (1.7e-6, 2e-7)],
)
def test_tick_steps(span: float, step: float) -> None:
    assert tick_step(span) == pytest.approx(step)


def test_the_usual_case_in_numbers() -> None:
    """Limits ±0.030 in 640 px: 60 % is 384 px, so 6.4 px per micrometre, from 128 to 512, zero at 320."""
    drawn = draw(OUTSIDE, box_name="bench")
    assert [wall.x for wall in drawn.walls] == [128, 512]
    assert drawn.zero == 320
    assert drawn.mark.x == 320 + 6.4 * 12
    assert drawn.whisker is not None
    assert (drawn.whisker.start, drawn.whisker.end) == (320 + 6.4 * 6, 320 + 6.4 * 18)
    assert drawn.acceptance == pytest.approx((320 - 6.4 * 24, 320 + 6.4 * 24))
    assert drawn.cuts == ()
    assert [text.text for text in drawn.texts] == ["−0.03", "+0.03\N{NO-BREAK SPACE}mm", "0"]


def test_the_band_shrinks_until_all_fits_with_a_margin() -> None:
    """E + U = 0.060 is twice the limit: it stands at the 4 % margin, and the band gets half of what is left."""
    drawn = draw(replace(OUTSIDE, error_mm=D("0.054"), verdict="out_of_tolerance"), box_name="bench")
    assert drawn.whisker is not None
    assert drawn.whisker.end == pytest.approx(640 * 0.96)
    assert drawn.share == pytest.approx(0.46)
    assert drawn.cuts == ()


def test_the_last_value_before_a_break_and_the_first_behind_it() -> None:
    """At 24 % the margin is reached by 0.92/0.24 = 3.83 half-widths, here 0.115 mm."""
    fits = replace(OUTSIDE, error_mm=D("0.1149"), U_mm=None)
    assert draw(fits, box_name="bench").cuts == ()
    broken = draw(replace(OUTSIDE, error_mm=D("0.1151"), U_mm=None), box_name="bench")
    assert broken.share == pytest.approx(0.24)
    assert [cut.x for cut in broken.cuts] == [0.84 * 640]
    assert broken.mark.x > broken.cuts[0].x


def test_a_break_has_two_strokes_and_the_number_at_the_mark() -> None:
    drawn = draw(replace(OUTSIDE, error_mm=D("-0.412"), verdict="out_of_tolerance"), box_name="bench")
    assert len(drawn.cuts) == 1
    assert drawn.cuts[0].strokes.count("M") == 2
    number = drawn.texts[-1]
    assert number.text == "−0.4120\N{NO-BREAK SPACE}mm"
    assert number.x <= drawn.mark.x <= number.x + width(number.text, 17)


def test_a_spread_beyond_the_picture_breaks_both_ends() -> None:
    drawn = draw(replace(OUTSIDE, error_mm=D("0.004"), U_mm=D("0.19")), box_name="row")
    low, high = drawn.cuts
    assert low.x < drawn.walls[0].x < drawn.mark.x < drawn.walls[1].x < high.x
    assert drawn.whisker is not None
    assert drawn.whisker.start < low.x
    assert drawn.whisker.end > high.x
    assert "±" in drawn.texts[-1].text


def test_a_missing_limit_has_no_wall_and_an_open_end() -> None:
    drawn = draw(
        replace(OUTSIDE, lower_mm=None, acceptance_lower_mm=None, error_mm=D("0.004")), box_name="bench"
    )
    assert [wall.exists for wall in drawn.walls] == [False, True]
    assert drawn.walls[0].x == 1
    assert drawn.has_band
    bare = draw(CorridorData(label="flatness", error_mm=D("0.003"), U_mm=D("0.001")), box_name="bench")
    assert not bare.has_band
    assert not any(wall.exists for wall in bare.walls)


def test_the_guard_is_hatched_at_45_degrees_inside_its_field() -> None:
    frame = box("bench")
    values = numbers(hatching([128, 166.4], frame))
    assert values
    for x1, y1, x2, y2 in zip(values[0::4], values[1::4], values[2::4], values[3::4], strict=True):
        assert x2 - x1 == pytest.approx(y1 - y2, abs=0.02)
        assert 128 <= x1 <= x2 <= 166.4
        assert frame.band_top <= y2 <= y1 <= frame.band_bottom


def test_as_found_is_joined_to_as_left_and_keeps_clear_of_it() -> None:
    data = replace(OUTSIDE, as_found=Earlier(D("0.012"), "out_of_tolerance"))
    for name in ("bench", "row"):
        drawn = draw(data, box_name=name)
        assert drawn.earlier is not None
        assert drawn.earlier.x == drawn.mark.x
        assert drawn.mark.y - drawn.earlier.y >= drawn.mark.radius + drawn.earlier.radius - 1


def test_the_list_has_no_numerals() -> None:
    assert draw(replace(OUTSIDE, error_mm=D("0.9")), box_name="list").texts == ()


@pytest.mark.parametrize(("error", "outward"), [("0.047", 1), ("-0.047", -1)])
def test_wedges_point_outward(error: str, outward: int) -> None:
    drawn = draw(replace(OUTSIDE, error_mm=D(error), verdict="out_of_tolerance"), box_name="bench")
    tip = numbers(drawn.mark.path)[0]
    assert tip == pytest.approx(drawn.mark.x + outward * 7)


def test_every_verdict_has_its_own_shape_but_the_two_half_discs() -> None:
    paths = {
        verdict: (mark.path, mark.stroke)
        for verdict in [*VERDICTS, None]
        for mark in [draw(replace(OUTSIDE, verdict=verdict), box_name="bench").mark]
    }
    assert paths["not_accepted"] == paths["conditional_inside"]
    assert len(set(paths.values())) == 6


def test_refuses_what_it_can_not_draw() -> None:
    with pytest.raises(UnknownVerdict, match="“good”"):
        replace(OUTSIDE, verdict="good")
    with pytest.raises(UnknownBox, match="poster"):
        draw(OUTSIDE, box_name="poster")
    with pytest.raises(UnknownUnit, match="ell"):
        replace(OUTSIDE, unit="ell")


def test_limits_that_coincide_are_still_drawn() -> None:
    drawn = draw(replace(OUTSIDE, lower_mm=D(0), upper_mm=D(0), error_mm=D(0), U_mm=D(0)), box_name="bench")
    assert drawn.mark.x == drawn.walls[0].x == drawn.walls[1].x == 320


def test_ticks_leave_off_the_outermost_evenly() -> None:
    scale = fit(box("bench"), (-13.0, 13.0), [0.0])
    places = [x for x, _ in ticks(scale)]
    assert len(places) == 14
    assert abs((places[0] + places[-1]) / 2 - 320) <= 16
