"""Changed standards carried into results: against working everything out again from the readings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsys.metrology.conformance import Spread
from labsys.metrology.decision import Limits, Rule, RuleKind, Verdict, decide
from labsys.metrology.error import (
    Reference,
    Temperatures,
    error_of_indication,
    from_picometres,
    reference_length,
    to_picometres,
)
from labsys.metrology.reevaluation import (
    ChainIsACircle,
    Change,
    ChangeTooLarge,
    NameTaken,
    StoredResult,
    Use,
    WrongComponent,
    reevaluate,
)
from labsys.metrology.reevaluation.tables import BadReevaluation
from labsys.metrology.views import View
from tests.labsys.metrology.budgets import both_views
from tests.labsys.metrology.published import case

VIEW = View.CALIBRATION
EPOCH = date(2026, 1, 1)
TOL = Limits(Decimal("-0.004"), Decimal("0.004"))
PLAIN = Rule(RuleKind.SIMPLE, VIEW, min_ratio=None)
RULES = [PLAIN, *(Rule(kind, VIEW) for kind in (RuleKind.GUARDED, RuleKind.PROVE, RuleKind.FOUR_WAY))]
OOT = {one["id"]: one for one in case("oot-cases")["cases"]}


@dataclass(frozen=True)
class Root:
    """A standard's value: deviation used and now accepted (pm), the days it was good and found off."""

    used: int
    new: int
    good: int | None
    found: int

    def deviation(self, day: int, way: str) -> int:
        """Give the deviation that was true on a day, as either way of reckoning has it."""
        delta = self.new - self.used
        if self.good is not None and day < self.good:
            return self.used
        if way == "worst" or self.good is None or day >= self.found:
            return self.new
        return self.used + round(Fraction(delta * (day - self.good), self.found - self.good))


@dataclass(frozen=True)
class Made:
    """A result as measured: what was read (pm), on which day, by which kind of comparison, with what."""

    read: int
    day: int
    sensitivity: int
    sources: tuple[tuple[int, int], ...]
    rule: Rule


@st.composite
def laboratories(draw: st.DrawFn) -> tuple[list[Root], list[Made]]:
    """Draw standards and results; the sources of a result are standards (minus numbers) and earlier results."""
    roots = []
    for _ in range(draw(st.integers(1, 3))):
        used, new = draw(st.integers(-900_000, 900_000)), draw(st.integers(-900_000, 900_000))
        good = draw(st.none() | st.integers(0, 400))
        roots.append(Root(used, new, good, (good or 0) + draw(st.integers(0, 400))))
    made: list[Made] = []
    for number in range(draw(st.integers(1, 7))):
        places = draw(st.lists(st.integers(-len(roots), number - 1), min_size=1, max_size=3, unique=True))
        counts = [draw(st.integers(1, 2)) for _ in places]
        made.append(
            Made(
                draw(st.integers(-5_000_000, 5_000_000)),
                draw(st.integers(0, 900)),
                draw(st.sampled_from([-1, 1, -3])),
                tuple(zip(places, counts, strict=True)),
                draw(st.sampled_from(RULES)),
            )
        )
    return roots, made


def from_scratch(roots: list[Root], made: list[Made], way: str) -> list[Decimal]:
    """Work every result out from its reading, with the deviations that were true, in order."""
    values: list[Decimal] = []
    for one in made:
        length = reference_length(
            [
                Reference(
                    Decimal(25),
                    values[place]
                    if place >= 0
                    else from_picometres(
                        roots[-place - 1].used
                        if way == "before"
                        else roots[-place - 1].deviation(one.day, way)
                    ),
                    count,
                )
                for place, count in one.sources
            ]
        )
        nominal = Decimal(25) * sum(count for _, count in one.sources)
        if one.sensitivity == -1:
            found = error_of_indication(
                reading_mm=nominal + from_picometres(one.read), length_mm=length, temperatures=None
            )
        else:
            # Comparison: difference read plus the standards' deviations; three wires: measured less three of theirs.
            found = from_picometres(one.read) + one.sensitivity * (length - nominal)
        values.append(found)
    return values


@settings(max_examples=150, deadline=None)
@given(laboratories(), st.randoms(use_true_random=False))
def test_carrying_is_working_everything_out_again(
    laboratory: tuple[list[Root], list[Made]], shuffled: Random
) -> None:
    roots, made = laboratory
    ways = {way: from_scratch(roots, made, way) for way in ("before", "worst", "interpolated")}
    stored = [
        StoredResult(
            name=f"{place}",
            value_mm=ways["before"][place],
            measured_on=EPOCH + timedelta(one.day),
            uses=tuple(Use(f"{source}", Decimal(one.sensitivity), count) for source, count in one.sources),
            limits=TOL,
            rule=one.rule,
            U_mm=0.0008,
            spread=Spread(0.0004),
        )
        for place, one in enumerate(made)
    ]
    changes = [
        Change(
            source=f"{-place - 1}",
            used_mm=from_picometres(root.used),
            new_mm=from_picometres(root.new),
            found_on=EPOCH + timedelta(root.found),
            last_good_on=None if root.good is None else EPOCH + timedelta(root.good),
        )
        for place, root in enumerate(roots)
    ]
    shuffled.shuffle(stored)
    again = reevaluate(stored, changes)
    for one in again.results:
        place = int(one.name)
        for way, outcome in (
            ("before", one.before),
            ("worst", one.worst),
            ("interpolated", one.interpolated),
        ):
            assert outcome.value_mm == ways[way][place]
            decision = decide(
                error_mm=ways[way][place], limits=TOL, rule=made[place].rule, views=both_views(0.0008)
            )
            assert outcome.verdict is decision.verdict
    flipped = {one.name for one in again.flips}
    for one in again.results:
        verdicts = {one.before.verdict, one.worst.verdict, one.interpolated.verdict}
        assert (one.name in flipped) == (len(verdicts) > 1)


def result(name: str = "e", value: str = "0.0036", *uses: Use, **more: Any) -> StoredResult:
    usual: dict[str, Any] = {"measured_on": EPOCH, "limits": TOL, "rule": PLAIN, "U_mm": 0.0009}
    return StoredResult(name=name, value_mm=Decimal(value), uses=uses or (Use("S"),), **{**usual, **more})


def change(new: str = "0.00065", **more: Any) -> Change:
    usual: dict[str, Any] = {"source": "S", "used_mm": Decimal(0), "found_on": EPOCH}
    return Change(**{**usual, "new_mm": Decimal(new), **more})


@pytest.mark.parametrize("name", ["OOT-5", "OOT-6"])
def test_the_worked_cases_of_a_standard_found_off(name: str) -> None:
    given_, expected = OOT[name]["inputs"], OOT[name]["expected"]
    corrected = change(
        given_["standard_value_corrected_mm"], used_mm=Decimal(given_["standard_value_used_mm"])
    )
    (found,) = reevaluate([result()], [corrected]).results
    assert found.worst.value_mm * 1000 == Decimal(expected["corrected_error_um"])
    assert found.worst.shift_mm * -1000 == Decimal(expected["shift_um"])
    assert (found.worst.verdict is Verdict.IN_TOLERANCE) == expected["conforms_simple"]
    assert found.flips is not expected["conforms_simple"]
    assert found.shift_over_U == pytest.approx(float(expected["shift_over_U"]), rel=1e-4)


def test_a_wrong_setting_rod_a_block_and_three_wires() -> None:
    # Signs by design.md 3.1, worked by hand: Δ = +1 µm.
    results = [
        result("indicating", "0", Use("S")),
        result("block", "0", Use("S", Decimal(1))),
        result("thread", "0", Use("S", Decimal(-1), 3)),
        result("pair", "0", Use("S", Decimal(-1)), Use("S", Decimal(1))),
        result("other", "0", Use("T")),
    ]
    shifts = [one.worst.shift_mm * 1000 for one in reevaluate(results, [change("0.001")]).results]
    assert shifts == [-1, 1, -3, 0, 0]


def test_a_result_that_became_a_standard_passes_on_what_was_wrong_with_it_from_the_start() -> None:
    # The block was calibrated half way to the day its standard was found off; the gauge long after, on the block.
    block = result(
        "block", "0", Use("S", Decimal(1)), measured_on=EPOCH + timedelta(50), limits=Limits(None, None)
    )
    gauge = result("gauge", "0", Use("block"), measured_on=EPOCH + timedelta(300))
    off = change("0.002", last_good_on=EPOCH, found_on=EPOCH + timedelta(100))
    found = {one.name: one for one in reevaluate([gauge, block], [off]).results}
    assert [found[name].worst.shift_mm * 1000 for name in ("block", "gauge")] == [2, -2]
    assert [found[name].interpolated.shift_mm * 1000 for name in ("block", "gauge")] == [1, -1]
    assert found["block"].before.verdict is None and found["block"].before.refusal == "limit-missing"


@pytest.mark.parametrize(
    ("day", "worst", "interpolated"),
    [(-1, 0, 0), (0, 1000, 0), (1, 1000, 333), (2, 1000, 667), (3, 1000, 1000), (4, 1000, 1000)],
)
def test_the_window_of_a_change(day: int, worst: int, interpolated: int) -> None:
    used = result("e", "0", Use("S", Decimal(1)), measured_on=EPOCH + timedelta(day))
    off = change("0.000001", last_good_on=EPOCH, found_on=EPOCH + timedelta(3))
    (found,) = reevaluate([used], [off]).results
    assert (to_picometres(found.worst.shift_mm), to_picometres(found.interpolated.shift_mm)) == (
        worst,
        interpolated,
    )


@given(st.integers(-(10**6), 10**6), st.decimals(-4, 4, places=9), st.decimals(-4, 4, places=9))
def test_broken_sensitivities_are_exact_up_to_one_rounding(
    delta: int, first: Decimal, second: Decimal
) -> None:
    uses = Use("S", first), Use("S", second, 2)
    (found,) = reevaluate([result("e", "0", *uses)], [change(str(from_picometres(delta)))]).results
    assert to_picometres(found.worst.shift_mm) == round(
        Fraction(first) * delta + 2 * Fraction(second) * delta
    )


@given(st.integers(-(10**6), 10**6), st.integers(0, 25), st.integers(10, 30), st.integers(10, 30))
def test_a_corrected_temperature_goes_into_the_sensitivity(
    delta: int, alpha: int, gauge: int, block: int
) -> None:
    warm = Temperatures(Decimal(gauge), Decimal(block), Decimal(alpha).scaleb(-6), Decimal("0.0000115"))
    length = Decimal(100)
    before, after = (
        error_of_indication(reading_mm=length, length_mm=length + moved, temperatures=warm)
        for moved in (Decimal(0), from_picometres(delta))
    )
    stored = result("e", str(before), Use("S", warm.strain - 1))
    (found,) = reevaluate([stored], [change(str(from_picometres(delta)))]).results
    # Both results were rounded to a picometre by themselves, the shift once more.
    assert abs(to_picometres(found.worst.value_mm) - to_picometres(after)) <= 1


def test_nothing_changed_and_nothing_to_change() -> None:
    assert reevaluate([], [change()]).results == ()
    (found,) = reevaluate([result()], []).results
    assert found.worst == found.interpolated == found.before
    (exact,) = reevaluate([result(U_mm=0.0)], [change()]).results
    assert exact.shift_over_U is None


def test_a_chain_of_a_thousand_levels() -> None:
    chain = [result("0", "0", Use("S", Decimal(1)))]
    chain += [result(f"{n}", "0", Use(f"{n - 1}", Decimal(1 if n % 2 else -1))) for n in range(1, 1000)]
    found = reevaluate(chain[::-1], [change("0.001")]).results[0]
    assert found.name == "999"
    # 499 of the 999 steps turn the sign.
    assert found.worst.shift_mm == Decimal("-0.001")


def test_a_chain_that_closes_on_itself_is_named() -> None:
    ring = [result("A", "0", Use("C")), result("B", "0", Use("A")), result("C", "0", Use("B"), Use("S"))]
    with pytest.raises(ChainIsACircle) as refused:
        reevaluate([*ring, result("D", "0", Use("C"))], [change()])
    named = refused.value.data["members"].split(" → ")
    assert sorted(named[1:]) == ["A", "B", "C"] and named[0] == named[-1]
    after = {"A": "B", "B": "C", "C": "A"}
    assert all(after[one] == other for one, other in zip(named, named[1:], strict=False))
    with pytest.raises(ChainIsACircle, match="A → A"):
        reevaluate([result("A", "0", Use("A"))], [])


def test_what_can_not_be_carried_is_refused_by_name() -> None:
    with pytest.raises(NameTaken, match="“e”"):
        reevaluate([result(), result()], [change()])
    with pytest.raises(NameTaken, match="“S”"):
        reevaluate([result("S", "0", Use("T"))], [change()])
    with pytest.raises(ChangeTooLarge):
        reevaluate([result()], [change("1001")])
    grown = [result("0", "0", Use("S", Decimal(1000)))]
    grown += [result(f"{n}", "0", Use(f"{n - 1}", Decimal(10**6))) for n in range(1, 4)]
    with pytest.raises(ChangeTooLarge):
        reevaluate(grown, [change("1")])
    with pytest.raises(BadReevaluation, match="sensitivities"):
        reevaluate([result("e", "0", Use("S", Decimal(10**7)))], [change()])
    with pytest.raises(BadReevaluation, match="last known good before"):
        reevaluate([result()], [change(last_good_on=EPOCH + timedelta(1))])
    with pytest.raises(WrongComponent, match="one of 0"):
        reevaluate([result("e", "0", Use("S", component=0))], [change()])


@pytest.mark.parametrize("bad", ["NaN", "Infinity"])
def test_what_is_no_number_is_refused(bad: str) -> None:
    for results, changes in (
        ([result("e", bad)], [change()]),
        ([result()], [change(bad)]),
        ([result("e", "0", Use("S", Decimal(bad)))], [change()]),
    ):
        with pytest.raises(ValueError, match="Expected a number"):
            reevaluate(results, changes)


def test_a_rule_that_refuses_the_result_leaves_it_without_a_verdict() -> None:
    strict = replace(PLAIN, min_ratio=Decimal(10))
    (found,) = reevaluate([result(rule=strict)], [change()]).results
    assert (found.before.verdict, found.before.refusal, found.flips) == (
        None,
        "accuracy-ratio-too-low",
        False,
    )
    (unjudged,) = reevaluate([result(rule=None)], [change()]).results
    assert (unjudged.worst.verdict, unjudged.worst.refusal) == (None, None)
