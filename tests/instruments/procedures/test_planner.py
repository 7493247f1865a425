"""The planner: whole plans for calipers of every length, reasons, and what it says when a standard is missing."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from instruments.procedures.planner import PlanPoint, Proposal, open_rules, propose
from instruments.procedures.shipped import caliper
from labsys.metrology.units import Unit, to_mm
from standards.register.models import ElementValue
from standards.register.queries import Available
from tests.instruments.procedures.shelves import LONG, M112, caliper_model, series, shelf_of, whole_shelf

D = Decimal
CONTENT = caliper()
ALL = ("outside", "inside", "depth", "step")


def done(proposal: Proposal) -> list[PlanPoint]:
    return [PlanPoint(point.function, point.nominal_mm, point.place) for point in proposal.points]


def outside(proposal: Proposal) -> list[tuple[Decimal, str]]:
    return [(point.nominal_mm, point.place) for point in proposal.points if point.function == "outside"]


def nominal_of(proposal: Proposal, shelf: dict[str, list[Available]]) -> list[Decimal]:
    sizes = {item.element.pk: item.element.nominal_mm for items in shelf.values() for item in items}
    return [sum((sizes[pk] * times for pk, times in point.elements), D(0)) for point in proposal.points]


def test_a_150_mm_caliper_gets_the_lengths_of_its_procedure_and_one_point_each_besides() -> None:
    shelf = whole_shelf()
    plan = propose(model=caliper_model(), functions=ALL, content=CONTENT, available=shelf)
    assert outside(plan) == [
        (D("41.3"), "near_beam"),
        (D("90"), "middle"),
        (D("150"), "near_beam"),
        (D("150"), "tips"),
    ]
    singles = {point.function: point.nominal_mm for point in plan.points if point.function != "outside"}
    assert singles == {"inside": 25, "depth": 25, "step": 25, "small_bore": 5}
    assert [point.sequence for point in plan.points] == list(range(1, 9))
    assert nominal_of(plan, shelf) == [point.nominal_mm for point in plan.points]
    assert plan.missing == ()


def test_a_6_in_caliper_is_measured_on_inch_blocks_and_inch_rings() -> None:
    plan = propose(
        model=caliper_model("6", unit="in"), functions=ALL, content=CONTENT, available=whole_shelf("in")
    )
    lengths = [to_mm(D(length), Unit.IN) for length in ("1.625", "3.55", "6", "6")]
    assert [length for length, _ in outside(plan)] == lengths
    singles = {point.function: point.nominal_mm for point in plan.points if point.function != "outside"}
    assert singles == {"inside": D("25.4"), "depth": D("25.4"), "step": D("25.4"), "small_bore": D("5.08")}


def test_an_inch_caliper_prefers_elements_it_can_read_over_nearer_ones() -> None:
    shelf = whole_shelf("in")
    shelf["inside"] = [*shelf_of([D(25)], tag="R-25"), *shelf["inside"]]
    plan = propose(model=caliper_model("6", unit="in"), functions=ALL, content=CONTENT, available=shelf)
    assert [p.nominal_mm for p in plan.points if p.function == "inside"] == [D("25.4")]


@pytest.mark.parametrize(
    ("high", "unit", "least"),
    [("150", "mm", 3), ("200", "mm", 4), ("300", "mm", 4), ("600", "mm", 5), ("6", "in", 3), ("12", "in", 4)],
)
def test_longer_calipers_get_more_outside_lengths(high: str, unit: str, least: int) -> None:
    model = caliper_model(high, unit=unit)
    plan = propose(model=model, functions=ALL, content=CONTENT, available=whole_shelf(unit))
    assert len({length for length, _ in outside(plan)}) >= least
    assert open_rules(CONTENT, model, ALL, done(plan)) == ()


@settings(max_examples=80, deadline=None)
@given(
    high=st.integers(80, 1000),
    functions=st.sets(st.sampled_from(["inside", "depth", "step"])),
    jaws=st.sampled_from(["knife-edges", "nibs", "none"]),
)
def test_with_blocks_for_every_length_no_rule_stays_open(high: int, functions: set[str], jaws: str) -> None:
    model = caliper_model(str(high), jaws=jaws)
    has = ("outside", *sorted(functions))
    shelf = whole_shelf()
    shelf["outside"] += shelf_of(series("10", "10", 100), tag="C-001", stackable=False)
    plan = propose(model=model, functions=has, content=CONTENT, available=shelf.__getitem__)
    assert open_rules(CONTENT, model, has, done(plan)) == ()
    assert plan.missing == ()
    assert all(D(0) < point.nominal_mm <= high for point in plan.points)
    assert {place for _, place in outside(plan)} == {"near_beam", "middle", "tips"}
    assert ("small_bore" in {p.function for p in plan.points}) == (
        jaws == "knife-edges" and "inside" in functions
    )
    assert nominal_of(plan, shelf) == [point.nominal_mm for point in plan.points]


@settings(max_examples=60, deadline=None)
@given(data=st.data(), high=st.sampled_from(["100", "150", "300"]))
def test_whatever_is_on_the_shelf_the_plan_is_sound_and_what_is_open_is_said(
    data: st.DataObject, high: str
) -> None:
    sizes = data.draw(st.lists(st.sampled_from([*M112, *LONG]), max_size=12, unique=True))
    shelf = {"outside": shelf_of(sizes)}
    model = caliper_model(high, functions=("outside",))
    plan = propose(model=model, functions=("outside",), content=CONTENT, available=shelf)
    assert nominal_of(plan, shelf) == [point.nominal_mm for point in plan.points]
    assert len({(p.nominal_mm, p.place) for p in plan.points}) == len(plan.points)
    assert CONTENT.points is not None
    for point in plan.points:
        ids = [pk for pk, _ in point.elements]
        assert len(set(ids)) == len(ids) <= CONTENT.points.stack_at_most
        assert 0 < point.nominal_mm <= model.range_high_mm
        assert point.why
    if {rule.code for rule in open_rules(CONTENT, model, ("outside",), done(plan))} & {
        "outside-low",
        "outside-far",
    }:
        assert plan.missing


def test_a_single_element_is_preferred_to_a_stack_of_the_same_length() -> None:
    shelf = {"outside": [*shelf_of(M112, tag="B-001"), *shelf_of([D("41.3")], tag="B-009")]}
    plan = propose(
        model=caliper_model(functions=("outside",)), functions=("outside",), content=CONTENT, available=shelf
    )
    first = plan.points[0]
    assert first.nominal_mm == D("41.3") and len(first.elements) == 1
    assert "one element has this length" in first.why


def test_a_stack_comes_from_one_set_only() -> None:
    halves = {"outside": [*shelf_of([D("1.3")], tag="B-001"), *shelf_of([D("40")], tag="B-002")]}
    plan = propose(
        model=caliper_model(functions=("outside",)), functions=("outside",), content=CONTENT, available=halves
    )
    assert all(len(point.elements) == 1 for point in plan.points)


def test_with_a_check_bar_only_the_nearest_steps_are_taken_and_it_says_instead_of_what() -> None:
    bar = {"outside": shelf_of(series("20", "20", 8), tag="C-001", stackable=False)}
    model = caliper_model(functions=("outside",))
    plan = propose(model=model, functions=("outside",), content=CONTENT, available=bar)
    assert [length for length, _ in outside(plan)] == [40, 80, 140, 140]
    assert "nothing here makes 41.3 mm" in plan.points[0].why
    assert open_rules(CONTENT, model, ("outside",), done(plan)) == ()


def test_with_few_blocks_a_round_stack_near_the_length_is_taken() -> None:
    few = {"outside": shelf_of([D(10), D(25), D(60)], tag="B-001")}
    model = caliper_model("100", functions=("outside",))
    plan = propose(model=model, functions=("outside",), content=CONTENT, available=few)
    assert max(length for length, _ in outside(plan)) == 95
    assert [len(point.elements) for point in plan.points if point.nominal_mm == 95] == [3, 3]
    assert open_rules(CONTENT, model, ("outside",), done(plan)) == ()


def test_a_missing_standard_is_named_in_a_sentence_not_left_out() -> None:
    shelf = whole_shelf()
    shelf["small_bore"] = []
    shelf["depth"] = shelf_of([D(60)], tag="B-003")
    plan = propose(model=caliper_model(), functions=ALL, content=CONTENT, available=shelf)
    assert plan.missing == (
        "Depth: no standard available from 1 mm to under 50 mm. Put one in service, or restrict the gauge.",
        "Small bore: no standard available from 4 mm to 6 mm. Put one in service, or restrict the gauge.",
    )
    assert {"depth", "small_bore"}.isdisjoint({point.function for point in plan.points})


def test_an_empty_shelf_names_every_length_and_function() -> None:
    plan = propose(model=caliper_model(), functions=ALL, content=CONTENT, available={})
    assert plan.points == ()
    assert len(plan.missing) == 3 + 4
    assert all(sentence.endswith("Put one in service, or restrict the gauge.") for sentence in plan.missing)


def test_a_standard_with_too_large_an_uncertainty_is_not_used_and_is_named() -> None:
    shelf = whole_shelf()
    shelf["inside"] = shelf_of([D(25)], tag="R-007", U_mm="0.0032", stackable=False)
    plan = propose(model=caliper_model(), functions=ALL, content=CONTENT, available=shelf)
    assert any(
        "R-007 25 would serve, but its uncertainty is larger than the procedure allows" in m
        for m in plan.missing
    )
    allowed = shelf_of(
        [D(25)], tag="R-007", U_mm="0.003125", stackable=False
    )  # 3 µm + 5e-6 of 25 mm: exactly
    shelf["inside"] = allowed
    plan = propose(model=caliper_model(), functions=ALL, content=CONTENT, available=shelf)
    assert plan.missing == ()


def test_a_grade_limit_counts_as_a_rectangle_when_the_uncertainty_is_compared() -> None:
    shelf = whole_shelf()
    for limit, fits in (("0.0027", True), ("0.0028", False)):  # 2·a/√3 against 3.125 µm: a at most 2.706 µm
        ring = shelf_of([D(25)], tag="R-008", stackable=False)
        ring[0].value.basis, ring[0].value.limit_mm = ElementValue.Basis.GRADE_LIMIT, D(limit)
        shelf["inside"] = ring
        plan = propose(model=caliper_model(), functions=ALL, content=CONTENT, available=shelf)
        assert (plan.missing == ()) is fits


def test_the_plan_never_depends_on_the_order_of_the_shelf() -> None:
    shelf = whole_shelf()
    turned = {name: list(reversed(items)) for name, items in shelf.items()}
    plans = [
        propose(model=caliper_model("300"), functions=ALL, content=CONTENT, available=one)
        for one in (shelf, turned)
    ]
    assert plans[0] == plans[1]


def test_whole_turns_of_the_scale_only_warn_unless_the_procedure_makes_it_a_rule() -> None:
    model = caliper_model("6", unit="in", functions=("outside",), period="5.08")
    common = [("outside", "1", "near_beam"), ("outside", "2", "middle"), ("outside", "6", "tips")]
    points = [PlanPoint(function, to_mm(D(length), Unit.IN), place) for function, length, place in common]
    found = open_rules(CONTENT, model, ("outside",), points)
    assert [(rule.code, rule.is_blocking) for rule in found] == [("outside-phase", False)]


def test_the_proposed_lengths_meet_different_phases_of_a_capacitive_scale() -> None:
    model = caliper_model(functions=("outside",), period="5.08")
    plan = propose(model=model, functions=("outside",), content=CONTENT, available=whole_shelf())
    assert open_rules(CONTENT, model, ("outside",), done(plan)) == ()
