"""The rule of weeks in numbers: all inside its box, bars true to their hours, the hatching only in the excess."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string
from hypothesis import given
from hypothesis import strategies as st

from labsys.pages.weeks import BASE, HEIGHT, MARGIN, TOP, WIDTH, Rule, WeekLoad, draw, hours

HOURS = st.floats(0, 5000, allow_nan=False).map(lambda value: round(value, 2))
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def load(index: int, due: float = 0, called: float = 0, capacity: float = 0) -> WeekLoad:
    return WeekLoad(index, f"W{index}", due, called, capacity, f"Week {index}", f"/planning/weeks/{index}/")


def points(path: str) -> list[tuple[float, float]]:
    """Read a path of absolute M and L steps."""
    found = [float(text) for text in NUMBER.findall(path)]
    return list(zip(found[::2], found[1::2], strict=True))


WEEKS = st.lists(st.tuples(HOURS, HOURS, HOURS), min_size=1, max_size=16).map(
    lambda rows: [load(place - 4, *row) for place, row in enumerate(rows)]
)


@given(weeks=WEEKS)
def test_everything_lies_inside_the_box(weeks: list[WeekLoad]) -> None:
    rule = draw(weeks, title="Weeks")
    for bar in rule.bars:
        assert MARGIN <= bar.left <= bar.left + bar.width <= WIDTH - MARGIN
        for y, height in ((bar.due_y, bar.due_height), (bar.called_y, bar.called_height)):
            assert y >= TOP - 0.1 and height >= 0 and y + height <= BASE + 0.11
        for x, y in points(bar.excess):
            assert bar.left - 0.1 <= x <= bar.left + bar.width + 0.1
            assert TOP - 0.1 <= y <= BASE + 0.1
    assert 0 <= rule.zero_x <= WIDTH and rule.base < HEIGHT


@given(weeks=WEEKS)
def test_bars_are_as_high_as_their_hours(weeks: list[WeekLoad]) -> None:
    rule = draw(weeks, title="Weeks")
    most = max(max(week.due_hours + week.called_hours, week.capacity_hours) for week in weeks)
    for bar in rule.bars:
        share = (bar.load.due_hours + bar.load.called_hours) / most if most else 0
        assert bar.due_height + bar.called_height == pytest.approx(share * (BASE - TOP), abs=0.2)


@given(weeks=WEEKS)
def test_only_what_the_bench_cannot_do_is_hatched(weeks: list[WeekLoad]) -> None:
    for bar in draw(weeks, title="Weeks").bars:
        over = bar.load.due_hours + bar.load.called_hours - bar.load.capacity_hours
        if bar.excess:
            assert over > 0 and bar.load.index >= 0
            most = max(max(w.due_hours + w.called_hours, w.capacity_hours) for w in weeks)
            line = BASE - bar.load.capacity_hours / most * (BASE - TOP)
            assert all(y <= line + 0.11 for _, y in points(bar.excess))


def test_today_is_the_edge_of_this_week_and_late_weeks_stand_left_of_it() -> None:
    rule = draw([load(index) for index in range(-4, 12)], title="Weeks")
    slot = (WIDTH - 2 * MARGIN) / 16
    assert rule.zero_x == pytest.approx(MARGIN + 4 * slot)
    assert all((bar.left < rule.zero_x) == (bar.load.index < 0) for bar in rule.bars)


def test_the_line_of_capacity_steps_where_the_hours_do() -> None:
    rule = draw([load(0, capacity=12), load(1, capacity=24), load(2, capacity=24)], title="Weeks")
    heights = [BASE - float(text) for text in re.findall(r"V([\d.]+)", rule.capacity)]
    assert heights == pytest.approx([(BASE - TOP) / 2, BASE - TOP, BASE - TOP])


def test_a_week_more_than_full_is_hatched_to_the_line() -> None:
    bar = draw([load(0, due=30, called=6, capacity=24)], title="Weeks").bars[0]
    ys = [y for _, y in points(bar.excess)]
    line = BASE - 24 / 36 * (BASE - TOP)
    assert min(ys) == pytest.approx(TOP, abs=0.2)
    assert max(ys) == pytest.approx(line, abs=0.2)


@pytest.mark.parametrize(("value", "said"), [(0.75, "0.8 h"), (3, "3 h"), (9.96, "10 h"), (31.4, "31 h")])
def test_hours_are_written_as_people_do(value: float, said: str) -> None:
    assert hours(value) == said


def svg(rule: Rule) -> ElementTree.Element:
    return ElementTree.fromstring(render_to_string("labsys/elements/weeks.svg", {"rule": rule}))


def test_the_picture_parses_has_words_for_each_week_and_no_inline_style() -> None:
    root = svg(draw([load(-1, 2), load(0, 30, 6, 24), load(1)], title="Hours & weeks"))
    names = {"s": "http://www.w3.org/2000/svg"}
    links = root.findall("s:a", names)
    assert [link.get("href") for link in links] == [f"/planning/weeks/{index}/" for index in (-1, 0, 1)]
    assert [link.get("aria-label") for link in links] == ["Week -1", "Week 0", "Week 1"]
    assert root.get("aria-label") == "Hours & weeks"
    assert all("style" not in one.attrib for one in root.iter())
