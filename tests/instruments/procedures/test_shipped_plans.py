"""Shipped procedures planned on a well-equipped laboratory's standards: nothing missing, no rule left open."""

from __future__ import annotations

from decimal import Decimal

import pytest

from instruments.procedures.planner import PlanPoint, Proposal, open_rules, propose
from instruments.procedures.shipped import procedure
from labsys.metrology.units import Unit, from_mm
from standards.register.queries import Available
from tests.instruments.procedures.shelves import IN81, LONG, M112, series, shelf_of
from tests.instruments.procedures.test_shipped import TYPICAL, Typical, ends, made, pieces

D = Decimal
_FINE = "0.00005"


def continuous(function: str, up_to: str, U_mm: str) -> list[Available]:
    """Put one element on the shelf that serves every length up to its own."""
    shelf = shelf_of([D(up_to)], tag=f"{function}-1", functions=(function,), U_mm=U_mm, stackable=False)
    for item in shelf:
        item.element.continuous = True
    return shelf


INCHES = shelf_of([*IN81, *series("5", "1", 20, Unit.IN)], tag="B-IN", U_mm=_FINE)
BLOCKS = shelf_of([*M112, *LONG, D(600), D(800), D(1000)], tag="B-MM", U_mm=_FINE)
SHELF = {
    **{function: [*BLOCKS, *INCHES] for function in ("outside", "depth", "height")},
    "size": BLOCKS,
    "inside": continuous("inside", "1000", "0.0004"),
    "travel": continuous("travel", "60", "0.0005"),
    "flatness": [*continuous("flatness", "60", "0.0001"), *continuous("flatness", "3000", "0.0006")],
    "parallelism": continuous("parallelism", "500", "0.0002"),
    "pitch_diameter": continuous("pitch_diameter", "100", "0.0002"),
    "thickness": continuous("thickness", "25", "0.001"),
    "radius": continuous("radius", "100", "0.003"),
    "angle": shelf_of(
        [D(3600 * angle) for angle in (15, 30, 45, 60, 90)], tag="A-1", functions=("angle",), U_mm="2"
    ),
}


def plan(of: Typical) -> Proposal:
    return propose(
        model=of.model,
        functions=of.made.functions,
        content=procedure(of.family),
        available=SHELF,
        members=of.members,
    )


def done(proposal: Proposal) -> list[PlanPoint]:
    """Take every point as measured."""
    return [
        PlanPoint(point.function, point.nominal_mm, point.place, point.direction, point.member)
        for point in proposal.points
    ]


@pytest.mark.parametrize("of", TYPICAL, ids=str)
def test_a_plan_leaves_no_rule_open(of: Typical) -> None:
    found = plan(of)
    left = open_rules(procedure(of.family), of.model, of.made.functions, done(found), of.members)
    assert found.missing == () and found.points
    assert [rule.sentence for rule in left] == []


def taken(found: Proposal, code: str) -> list[tuple[str, str, str]]:
    """Give length, place and direction of every point of a series, in their order."""
    mine = [point for point in found.points if point.function == code]
    return [(f"{point.nominal_mm.normalize():f}", point.place, point.direction) for point in mine]


def test_a_dial_indicator_is_read_close_at_first_and_then_wider_in_and_out() -> None:
    found = taken(plan(Typical("dial-indicator", made("10", "0.01", "travel"), "dial")), "travel")
    going_in = [length for length, _place, direction in found if direction == "up"]
    assert going_in[:4] == ["0", "0.1", "0.2", "0.3"] and going_in[20:23] == ["2", "2.5", "3"]
    assert going_in[-3:] == ["8", "9", "10"] and len(going_in) == 21 + 6 + 5
    assert [length for length, _place, direction in found if direction == "down"] == going_in[::-1]


@pytest.mark.parametrize(("high", "division"), [("6.35", "0.0005"), ("12.7", "0.0005"), ("25.4", "0.001")])
def test_a_dial_indicator_in_inches_is_read_at_round_inches_on_its_divisions(
    high: str, division: str
) -> None:
    of = Typical("dial-indicator", made(high, division, "travel", unit="in"), "dial")
    inches = [from_mm(point.nominal_mm, Unit.IN) for point in plan(of).points if point.function == "travel"]
    going_in = inches[: len(inches) // 2]
    assert going_in[:4] == [0, D("0.005"), D("0.01"), D("0.015")] and going_in[20:23] == [
        D("0.1"), D("0.125"), D("0.15"),
    ]  # fmt: skip
    assert going_in[-1] == from_mm(D(high), Unit.IN) and inches[::-1] == inches
    assert [inch for inch in inches if inch % D(division)] == []


@pytest.mark.parametrize(
    ("family", "high", "step"),
    [
        ("lever-indicator", "0.762", "0.0005"),
        ("lever-indicator", "0.2032", "0.0001"),
        ("digital-indicator", "12.7", "0.0005"),
        ("digital-indicator", "25.4", "0.0005"),
    ],
)
def test_shares_of_a_range_in_inches_are_round_inches(family: str, high: str, step: str) -> None:
    found = plan(Typical(family, made(high, step, "travel", unit="in"), "dial"))
    inches = [from_mm(point.nominal_mm, Unit.IN) for point in found.points if point.function == "travel"]
    assert inches and [inch for inch in inches if inch % D(step)] == []


def test_both_swings_of_a_lever_are_measured_in_tenths_of_the_range() -> None:
    found = plan(Typical("lever-indicator", made("0.8", "0.01", "travel"), "dial"))
    tenths = [f"{D('0.08') * tenth:f}".rstrip("0").rstrip(".") or "0" for tenth in range(11)]
    for code in ("travel", "travel_reversed"):
        assert [length for length, _place, way in taken(found, code) if way == "up"] == tenths


def test_a_plug_is_measured_end_by_end_in_three_sections_and_two_directions() -> None:
    of = Typical("plain-plug", made("20.021", "0.001", "go", "no_go"), "none", ends("20", "20.021"))
    found = plan(of)
    places = [place for _length, place, _way in taken(found, "go")]
    assert places == [f"{section}/{angle}" for section in ("entry", "middle", "far") for angle in (0, 90)]
    assert {length for length, _place, _way in taken(found, "no_go")} == {"20.021"}


def test_a_plug_with_one_end_is_measured_at_that_end_alone() -> None:
    of = Typical("plain-plug", made("20", "0.001", "go"), "none", ends("20", "20.021")[:1])
    found = plan(of)
    assert {point.function for point in found.points} == {"go"}
    assert open_rules(procedure("plain-plug"), of.model, ("go",), done(found), of.members) == ()


def test_every_block_of_a_set_is_held_against_one_of_its_own_size_at_five_places() -> None:
    of = Typical("gauge-block", made("50"), "none", pieces("1.005", "50"))
    sizes = {item.element.pk: item.element.nominal_mm for item in SHELF["size"]}
    found = plan(of).points
    assert [sizes[point.elements[0][0]] for point in found] == [D("1.005")] * 5 + [D(50)] * 5
    assert all(len(point.elements) == 1 for point in found)


def test_a_micrometer_without_the_function_isn_t_laid_on_parallels() -> None:
    found = plan(Typical("outside-micrometer", made("300", "0.001", "outside", low="275")))
    assert taken(found, "parallelism") == []
    edges = [place for _length, place, _way in taken(found, "edges")]
    assert edges == ["centre", "edge-0", "edge-90", "edge-180", "edge-270"]


def test_the_rods_of_a_depth_micrometer_are_measured_each_at_its_end() -> None:
    found = plan(Typical("depth-micrometer", made("150", "0.001", "depth")))
    assert [length for length, _place, _way in taken(found, "rods")] == [
        "25",
        "50",
        "75",
        "100",
        "125",
        "150",
    ]
