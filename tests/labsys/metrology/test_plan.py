"""Coverage of a caliper: what a set of points leaves open, and proposals that leave nothing open."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.plan import (
    BadCoverageRules,
    CoverageRules,
    PlanPoint,
    Window,
    open_rules,
    open_sentence,
    propose_points,
)
from labsys.metrology.units import Unit, to_mm

# Common practice, no source: windows of the single points.
WINDOWS = {
    "inside": Window(Decimal(20), Decimal(50), prefer_mm=Decimal(25)),
    "depth": Window(Decimal(1), Decimal(50), below=True, prefer_mm=Decimal(25)),
    "step": Window(Decimal(1), Decimal(50), below=True),
    "small_bore": Window(Decimal(4), Decimal(6), prefer_mm=Decimal(5)),
}
RULES = CoverageRules(range_high_mm=Decimal(150), least_points=3, windows=WINDOWS, period_mm=Decimal("5.08"))
GOOD = (
    PlanPoint("outside", Decimal("41.3"), "near_beam"),
    PlanPoint("outside", Decimal(90), "middle"),
    PlanPoint("outside", Decimal(150), "tips"),
    PlanPoint("inside", Decimal(25)),
    PlanPoint("depth", Decimal(25)),
    PlanPoint("step", Decimal(25)),
    PlanPoint("small_bore", Decimal(5)),
)
# Lists for starting with (no source): the longest lies at nine tenths of the range or beyond.
LISTS = {
    (150, Unit.MM): "41.3 90.0 150.0",
    (200, Unit.MM): "41.3 131.4 200.0",
    (300, Unit.MM): "41.3 131.4 243.5 300.0",
    (600, Unit.MM): "41.3 131.4 300 450 600",
    (1000, Unit.MM): "41.3 131.4 300 500 750 1000",
    (6, Unit.IN): "1.625 3.550 6.000",
    (8, Unit.IN): "1.625 3.550 8.000",
    (12, Unit.IN): "1.625 4.350 8.550 12.000",
}


def codes(points: tuple[PlanPoint, ...], rules: CoverageRules = RULES) -> list[str]:
    return [one.code for one in open_rules(rules, points)]


def without(*places: int) -> tuple[PlanPoint, ...]:
    return tuple(point for n, point in enumerate(GOOD) if n not in places)


def moved(n: int, **changes: object) -> tuple[PlanPoint, ...]:
    return tuple(replace(point, **changes) if i == n else point for i, point in enumerate(GOOD))  # type: ignore[arg-type]


def test_a_good_plan_leaves_nothing_open() -> None:
    assert codes(GOOD) == []
    assert open_sentence(()) == ""


def test_nothing_measured_leaves_everything_open() -> None:
    assert codes(()) == [
        "outside-count",
        "outside-low",
        "outside-far",
        "outside-place-near_beam",
        "outside-place-middle",
        "outside-place-tips",
        "window-inside",
        "window-depth",
        "window-step",
        "window-small_bore",
    ]


@pytest.mark.parametrize(
    ("points", "open_codes"),
    [
        (without(1), ["outside-count", "outside-place-middle"]),
        (moved(0, length_mm=Decimal("50.1")), ["outside-low"]),
        (moved(0, length_mm=Decimal(50)), []),
        (moved(2, length_mm=Decimal("134.9")), ["outside-far"]),
        (moved(2, length_mm=Decimal(135)), []),
        (moved(2, place="middle"), ["outside-place-tips", "outside-neighbours"]),
        (moved(3, length_mm=Decimal("19.9")), ["window-inside"]),
        (moved(3, length_mm=Decimal(50)), []),
        (moved(4, length_mm=Decimal(50)), ["window-depth"]),
        (moved(5, length_mm=Decimal("49.999")), []),
        (moved(6, length_mm=Decimal(10)), ["window-small_bore"]),
        (moved(6, function="inside"), ["window-small_bore"]),
    ],
)
def test_each_rule_by_itself(points: tuple[PlanPoint, ...], open_codes: list[str]) -> None:
    assert codes(points) == open_codes


def test_a_length_taken_at_two_places_differs_from_its_neighbour() -> None:
    points = (*GOOD, PlanPoint("outside", Decimal(150), "middle"))
    assert codes(points) == []


def test_a_range_that_does_not_begin_at_zero() -> None:
    rules = replace(RULES, range_low_mm=Decimal(150), range_high_mm=Decimal(300), windows={})
    points = tuple(replace(point, length_mm=point.length_mm + 150) for point in GOOD[:3])
    assert codes(points, rules) == []
    assert codes(GOOD[:3], rules) == ["outside-far"]


def test_functions_the_gauge_lacks_are_not_asked_for() -> None:
    rules = replace(RULES, windows={"depth": WINDOWS["depth"]})
    assert codes(without(3, 5, 6), rules) == []
    depth_gauge = replace(rules, least_points=0)
    assert codes((GOOD[4],), depth_gauge) == []


def test_lengths_at_one_phase_of_the_scale_are_a_warning() -> None:
    whole = tuple(
        PlanPoint("outside", n * Decimal("5.08"), place)
        for n, place in ((8, "near_beam"), (18, "middle"), (29, "tips"))
    )
    points = (*whole, *GOOD[3:])
    (warning,) = open_rules(RULES, points)
    assert (warning.code, warning.is_blocking) == ("outside-phase", False)
    assert "5.1 mm" in warning.sentence
    (rule,) = open_rules(replace(RULES, phase_is_rule=True), points)
    assert rule.is_blocking
    assert codes(points, replace(RULES, period_mm=None)) == []
    # Phases just before and just after a whole period are one phase too.
    around = tuple(
        replace(one, length_mm=one.length_mm + Decimal(n) / 100)
        for n, one in zip((-9, 9, 0), whole, strict=True)
    )
    assert codes((*around, *GOOD[3:])) == ["outside-phase"]
    spread = (whole[0], replace(whole[1], length_mm=whole[1].length_mm + 2), whole[2])
    assert codes((*spread, *GOOD[3:])) == []


def test_the_sentence_names_what_blocks() -> None:
    found = open_rules(RULES, (*moved(2, place="middle")[:3], *GOOD[4:]))
    assert open_sentence(found) == (
        "Open: one outside point at the tips; another place on the faces for one of 90 mm and 150 mm; "
        "one inside point from 20 mm to 50 mm."
    )


def test_sentences_speak_the_gauges_unit() -> None:
    rules = replace(RULES, range_high_mm=Decimal("152.4"), unit=Unit.IN)
    assert "One outside point at 5.4 in or beyond." in [one.sentence for one in open_rules(rules, ())]
    assert "at least 3 up to 6 in" in open_rules(rules, ())[0].sentence


@pytest.mark.parametrize(("size", "unit"), LISTS)
def test_proposals_from_the_starting_lists_leave_nothing_open(size: int, unit: Unit) -> None:
    lengths = [to_mm(Decimal(text), unit) for text in LISTS[size, unit].split()]
    rules = replace(RULES, range_high_mm=to_mm(Decimal(size), unit), least_points=len(lengths), unit=unit)
    proposed = propose_points(lengths, rules)
    assert codes(proposed, rules) == []
    assert [point.length_mm for point in proposed if point.function == "outside"] == [*lengths, lengths[-1]]
    assert [point.function for point in proposed[len(lengths) + 1 :]] == list(WINDOWS)
    assert all(WINDOWS[point.function].holds(point.length_mm) for point in proposed[len(lengths) + 1 :])


def test_the_starting_lists_meet_the_scale_at_different_phases() -> None:
    lengths = [Decimal(text) for text in ["41.3", "90", "131.4", "150"]]
    phases = [round(length % Decimal("5.08") / Decimal("5.08"), 2) for length in lengths]
    assert phases == [Decimal("0.13"), Decimal("0.72"), Decimal("0.87"), Decimal("0.53")]


@given(st.lists(st.integers(1, 1500), min_size=3, max_size=8, unique=True))
def test_cycled_places_always_differ_between_neighbours(tenths: list[int]) -> None:
    proposed = propose_points([Decimal(n) / 10 for n in tenths], RULES)
    left = codes(proposed)
    assert not {"outside-neighbours", "outside-count"} & set(left)
    assert not any(code.startswith(("outside-place", "window")) for code in left)


@given(
    st.lists(
        st.builds(
            PlanPoint,
            st.sampled_from(["outside", *WINDOWS]),
            st.integers(1, 150).map(Decimal),
            st.sampled_from(["near_beam", "middle", "tips"]),
        ),
        max_size=8,
    )
)
def test_one_more_point_never_opens_a_window_or_an_end(points: list[PlanPoint]) -> None:
    def lasting(found: list[str]) -> set[str]:
        return {code for code in found if code not in ("outside-neighbours", "outside-phase")}

    for n in range(len(points)):
        assert lasting(codes(tuple(points[: n + 1]))) <= lasting(codes(tuple(points[:n])))


@pytest.mark.parametrize(
    "change",
    [
        {"range_high_mm": Decimal(0)},
        {"period_mm": Decimal(-1)},
        {"range_high_mm": Decimal("NaN")},
        {"least_points": -1},
    ],
)
def test_rules_that_mean_nothing(change: dict[str, object]) -> None:
    with pytest.raises(BadCoverageRules):
        replace(RULES, **change)  # type: ignore[arg-type]
