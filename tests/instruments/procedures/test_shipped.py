"""Every procedure that ships: it reads, it writes back to itself, it says what a practitioner expects of it.

Holds the typical gauges that the other tests of shipped procedures work on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

import pytest

from instruments.inventory.models import GaugeModel
from instruments.procedures.content import Content, dump, parse
from instruments.procedures.planner import Piece
from instruments.procedures.shipped import AsMade, NoShippedProcedure, caliper, families, procedure
from labsys.laboratory.models import CHARACTERISTICS

D = Decimal
FAMILIES = (
    *("bore-gauge", "caliper", "checker-bar", "depth-gauge", "depth-micrometer", "dial-indicator"),
    *("digital-indicator", "feeler", "gauge-block", "height-gauge", "inside-micrometer", "lever-indicator"),
    *("outside-micrometer", "plain-pin", "plain-plug", "plain-ring", "protractor", "radius-gauge"),
    *("setting-ring", "surface-plate", "thread-plug"),
)


@dataclass(frozen=True, slots=True)
class Typical:
    """A gauge as the trade knows it: its family, how it is made, how it shows its reading, its members."""

    family: str
    made: AsMade
    indication: str = "digital"
    members: tuple[Piece, ...] = ()

    def __str__(self) -> str:
        """Name the case in a test's report."""
        return f"{self.family} {self.made.words}".replace(" ", "_")

    @property
    def model(self) -> GaugeModel:
        """Make its model, without a database."""
        made = self.made
        return GaugeModel(
            maker="Invented",
            designation=str(self),
            indication=self.indication,
            unit=made.unit,
            resolution=made.step,
            range_low_mm=made.range_low_mm,
            range_high_mm=made.range_high_mm,
            functions=list(made.functions),
            expansion_per_k=D("0.0000115"),
        )


def made(
    high: str,
    step: str = "0.001",
    *functions: str,
    low: str = "0",
    unit: str = "mm",
    grade: str = "",
    build: str = "",
) -> AsMade:
    """Say how a gauge is made, from text."""
    return AsMade(
        range_low_mm=D(low),
        range_high_mm=D(high),
        functions=functions,
        step=D(step),
        unit=unit,
        grade=grade,
        build=build,
    )


def pieces(*sizes: str) -> tuple[Piece, ...]:
    """Number members by their sizes in mm."""
    return tuple(Piece(number, size, D(size)) for number, size in enumerate(sizes, start=1))


def ends(go: str, no_go: str) -> tuple[Piece, ...]:
    return (Piece(1, "GO", D(go)), Piece(2, "NO-GO", D(no_go)))


_BLOCKS = pieces("0.5", "1.005", "1.49", "9.5", "25", "50", "75", "100")
TYPICAL = (
    *(
        Typical(
            "outside-micrometer",
            made(str(low + 25), "0.001", "outside", "parallelism", low=str(low)),
            "digital",
        )
        for low in (0, 25, 75, 150, 275, 475)
    ),
    Typical("outside-micrometer", made("25", "0.01", "outside"), "dial"),
    Typical("outside-micrometer", made("25.4", "0.0001", "outside", "parallelism", unit="in"), "vernier"),
    Typical("depth-micrometer", made("25", "0.001", "depth")),
    Typical("depth-micrometer", made("300", "0.01", "depth"), "dial"),
    Typical("depth-micrometer", made("152.4", "0.001", "depth", unit="in"), "dial"),
    Typical("inside-micrometer", made("30", "0.001", "inside", low="5")),
    Typical("inside-micrometer", made("50", "0.01", "inside", low="25", build="rod-and-sleeve"), "dial"),
    Typical("inside-micrometer", made("300", "0.01", "inside", low="50", build="rod-and-sleeve"), "dial"),
    Typical("inside-micrometer", made("1000", "0.01", "inside", low="100", build="tubular"), "dial"),
    Typical("depth-gauge", made("150", "0.01", "depth")),
    Typical("depth-gauge", made("600", "0.02", "depth"), "vernier"),
    Typical("depth-gauge", made("152.4", "0.0005", "depth", unit="in")),
    Typical("height-gauge", made("300", "0.01", "height")),
    Typical("height-gauge", made("600", "0.01", "height")),
    Typical("height-gauge", made("1000", "0.02", "height"), "vernier"),
    Typical("height-gauge", made("609.6", "0.0005", "height", unit="in")),
    *(Typical("dial-indicator", made(high, "0.01", "travel"), "dial") for high in ("3", "5", "10")),
    Typical("dial-indicator", made("6.35", "0.0005", "travel", unit="in"), "dial"),
    Typical("dial-indicator", made("25.4", "0.001", "travel", unit="in"), "dial"),
    *(Typical("digital-indicator", made(high, "0.001", "travel")) for high in ("12.5", "25", "50")),
    Typical("digital-indicator", made("25", "0.01", "travel")),
    Typical("digital-indicator", made("25.4", "0.00005", "travel", unit="in")),
    Typical("lever-indicator", made("0.8", "0.01", "travel"), "dial"),
    Typical("lever-indicator", made("0.2", "0.002", "travel"), "dial"),
    Typical("lever-indicator", made("0.762", "0.0005", "travel", unit="in"), "dial"),
    Typical("bore-gauge", made("1", "0.001", "travel")),
    Typical("bore-gauge", made("1.2", "0.01", "travel"), "dial"),
    Typical("plain-plug", made("6.012", "0.001", "go", "no_go", grade="Z"), "none", ends("6", "6.012")),
    Typical("plain-plug", made("30.021", "0.001", "go", "no_go", grade="Y"), "none", ends("30", "30.021")),
    Typical(
        "plain-plug", made("100.035", "0.001", "go", "no_go", grade="IT7"), "none", ends("100", "100.035")
    ),
    Typical("plain-plug", made("25.021", "0.001", "go", grade="IT7"), "none", ends("25.003", "25.021")[:1]),
    Typical("plain-ring", made("10", "0.001", "go", grade="Z"), "none"),
    Typical("plain-ring", made("50", "0.001", "no_go", grade="Y"), "none"),
    Typical("plain-ring", made("100", "0.001", "go", grade="ZZ"), "none"),
    Typical("plain-pin", made("10", "0.001", "size", grade="1"), "none", pieces("1", "1.01", "5", "10")),
    Typical("plain-pin", made("20", "0.001", "size", grade="2"), "none", pieces("20")),
    *(Typical("setting-ring", made(size, "0.001", "size"), "none") for size in ("5", "25", "100")),
    Typical("checker-bar", made("300", "0.001", "size"), "none", pieces("20", "50", "131.4", "300")),
    Typical("checker-bar", made("600", "0.001", "size"), "none", pieces("41.3", "300", "600")),
    *(Typical("gauge-block", made("100", "0.001", "size", grade=grade), "none", _BLOCKS) for grade in "12"),
    Typical("thread-plug", made("10", "0.001", "go", "no_go"), "none", ends("9.026", "9.206")),
    Typical("thread-plug", made("9.026", "0.001", "pitch_diameter"), "none"),
    Typical("feeler", made("1", "0.001", "thickness"), "none", pieces("0.05", "0.1", "0.5", "1")),
    Typical("protractor", made("1296000", "5", "angle", unit="′"), "vernier"),
    Typical("protractor", made("1296000", "0.01", "angle", unit="°")),
    Typical("protractor", made("648000", "1", "angle", low="-648000", unit="′")),
    Typical("radius-gauge", made("25", "0.001", "radius"), "none", pieces("1", "7", "25")),
    *(Typical("surface-plate", made("189", "0.001", "flatness", grade=grade), "none") for grade in "0123"),
    *(
        Typical("surface-plate", made("2969", "0.001", "flatness", grade=grade), "none")
        for grade in ("0", "AA")
    ),
)


def agreed(of: Typical) -> Typical:
    """Give a thread plug the tolerance of its drawing: none ships."""
    if of.family != "thread-plug":
        return of
    return replace(of, made=replace(of.made, tolerance_mm=D("0.009")))


def test_a_procedure_ships_for_every_family() -> None:
    assert families() == FAMILIES
    assert {one.family for one in TYPICAL} == set(FAMILIES) - {"caliper"}


def test_an_unknown_family_is_refused_by_a_sentence_that_names_the_known_ones() -> None:
    with pytest.raises(NoShippedProcedure, match="found “planimeter”") as caught:
        procedure("planimeter")
    assert "plain-plug" in str(caught.value)


def test_the_caliper_is_the_one_that_shipped_before() -> None:
    assert caliper() == procedure("caliper") and caliper().points is not None


@pytest.mark.parametrize("family", FAMILIES)
def test_what_ships_reads_back_to_the_same(family: str) -> None:
    found = procedure(family)
    assert parse(dump(found)) == found


def said(found: Content) -> list[str]:
    """Give every text that a person reads."""
    looks = [text for look in found.looks for text in (look.text, look.caution)]
    series = [text for one in found.series for text in (one.name, one.reading_rule, one.caution)]
    budgets = [
        component["source"] for budget in budgets_of(found) for component in budget if "source" in component
    ]
    return [found.scope, *found.method, *found.cautions, *found.starting_values, *looks, *series, *budgets]


def budgets_of(found: Content) -> list[tuple[dict[str, str], ...]]:
    own = [one.budget for one in found.series if one.budget is not None]
    return [found.budget, *own]  # type: ignore[list-item]


@pytest.mark.parametrize("family", FAMILIES)
def test_codes_are_unique_and_results_are_judged_by_lines_that_exist(family: str) -> None:
    found = procedure(family)
    codes = [one.code for one in found.series]
    assert len(set(codes)) == len(codes)
    assert len({look.code for look in found.looks}) == len(found.looks)
    assert {rule.limit for one in found.series for rule in one.results} <= set(CHARACTERISTICS)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_looks_begin_with_what_it_is_and_its_condition_and_one_can_end_the_job(family: str) -> None:
    looks = procedure(family).looks
    assert [look.code for look in looks[:2]] == ["identity", "clean"]
    # Members of a set are withdrawn one by one; everything else has something that ends the job at once.
    sets = {"plain-pin", "gauge-block", "feeler", "radius-gauge"}
    assert any(look.ends_job for look in looks) or family in sets


@pytest.mark.parametrize("family", FAMILIES)
def test_hands_and_eyes_are_warned_and_nothing_claims_to_be_confirmed(family: str) -> None:
    found = procedure(family)
    assert len(found.cautions) >= 3 and any(look.caution for look in found.looks)
    assert any("not confirmed" in sentence for sentence in found.starting_values)
    assert "complies with" not in " ".join(said(found)).replace("comply with a standard", "")


@pytest.mark.parametrize("family", FAMILIES)
def test_every_size_in_a_budget_says_where_it_comes_from(family: str) -> None:
    bare = {"standard", "reading"}
    missing = [
        component["name"]
        for budget in budgets_of(procedure(family))
        for component in budget
        if component["kind"] not in bare and not component.get("source")
    ]
    assert missing == []


@pytest.mark.parametrize("family", FAMILIES)
def test_rules_for_reading_are_short_enough_for_a_tablet(family: str) -> None:
    found = procedure(family)
    rules = {one.code: one.reading_rule for one in found.series}
    assert {code: len(rule) for code, rule in rules.items() if len(rule) > 220} == {}
    assert all(one.sketch for one in found.series)
