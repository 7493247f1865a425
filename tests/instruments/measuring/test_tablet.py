"""What the tablet says at once is what the server says after it: the same integers, on 10,000 generated readings.

Grounds of every rule, two-sided and one-sided, in both units; errors on every limit, a picometre to either side of it,
and anywhere. The server's side is ``decide`` in Decimal; the tablet's side is once a port, once the script itself.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.staticfiles import finders

from instruments.measuring.evaluation import evaluate_point, ground_of, prospect_of
from instruments.measuring.models import Point
from instruments.measuring.showing.integers import Integers, of_decision, of_point
from labsys.errors import LabError
from labsys.metrology.decision import decide
from labsys.metrology.error import error_of_indication, from_picometres, to_picometres
from labsys.metrology.limits import Limits
from labsys.metrology.readings import parse_reading
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.units import Unit, decimals_shown
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import View
from labsys.pages import figures
from tests.bench import Player
from tests.labsys.metrology.budgets import both_views

D = Decimal
GROUNDS, READINGS = 200, 50
HOST = "http://localhost"
RULES = (
    Rule(RuleKind.SIMPLE, View.CALIBRATION, min_ratio=None),
    Rule(RuleKind.GUARDED, View.CALIBRATION),
    Rule(RuleKind.SPECIFIC_RISK, View.CALIBRATION, max_false_accept=D("0.05")),
    Rule(RuleKind.PROVE, View.CALIBRATION, g=D("0.7")),
    Rule(RuleKind.FOUR_WAY, View.CALIBRATION),
    Rule(RuleKind.PRESCRIBED, View.CALIBRATION, document="an invented specification, edition 1, 4.2"),
)


UNITS = {"mm": D(1), "in": D("25.4"), "µm": D("0.001"), "µin": D("0.0000254")}
"""Millimetres in one of each."""


@dataclass(frozen=True)
class Case:
    """One reading as typed, what the page carries for it, and what the server made of it."""

    raw: str
    integers: Integers
    error: int
    verdict: str

    @property
    def goal(self) -> dict[str, str]:
        """Give the data attributes as the script reads them."""
        return {_camel(name): text for name, text in self.integers.attributes}


def _camel(name: str) -> str:
    first, *rest = name.split("-")
    return first + "".join(word.capitalize() for word in rest)


def _limits(rng: random.Random) -> Limits:
    reach = D(rng.randrange(10_000_000, 60_000_000)).scaleb(-9)
    shift = D(rng.randrange(-5_000_000, 5_000_000)).scaleb(-9)
    return rng.choice(
        [
            Limits(-reach, reach),
            Limits(shift - reach, shift + reach),
            Limits(None, reach),
            Limits(-reach, None),
        ]
    )


def _edges(integers: Integers) -> list[int]:
    ends = {
        end
        for pair in (integers.limits, integers.accepted, integers.outer)
        for end in pair
        if end is not None
    }
    return sorted({end + by for end in ends for by in (-1, 0, 1)})


def generated() -> list[Case]:
    rng, cases = random.Random(20261125), []
    for number in range(GROUNDS):
        rule, limits = RULES[number % len(RULES)], _limits(rng)
        views = both_views(rng.uniform(0.0002, 0.009))
        unit, step = rng.choice(
            [("mm", D("0.01")), ("mm", D("0.001")), ("in", D("0.0005")), ("µm", D("0.1")), ("µin", D(1))]
        )
        read_in = (unit, decimals_shown(step))
        ground: dict[str, Any] = {"limits": limits, "rule": rule, "views": views}
        zone = decide(error_mm=D(0), **ground)
        edges = _edges(of_decision(zone, limits=limits, held_mm=D(0), kind=rule.kind, read_in=read_in))
        for _ in range(READINGS):
            error = rng.choice([*edges, rng.randrange(-90_000_000, 90_000_000)])
            raw = f"{step * rng.randrange(200, 12_000):f}"
            reading_mm = parse_reading(raw, unit=Unit(unit), step=step).value_mm
            length_mm = reading_mm - from_picometres(error)
            found = decide(
                error_mm=error_of_indication(reading_mm=reading_mm, length_mm=length_mm, temperatures=None),
                **ground,
            )
            carried = of_decision(zone, limits=limits, held_mm=length_mm, kind=rule.kind, read_in=read_in)
            cases.append(Case(raw, carried, error, str(found.verdict)))
    return cases


def port(raw: str, carried: Integers) -> tuple[int, str]:
    """Judge as the tablet does: one subtraction, a few comparisons of whole picometres."""
    digits, _point, decimals = raw.partition(".")
    per_unit = {"mm": 10**9, "in": 254 * 10**8, "µm": 10**6, "µin": 25400}[carried.unit]
    value, rest = divmod(int(digits + decimals) * per_unit, 10 ** len(decimals))
    assert rest == 0
    error = value - carried.reference

    def within(ends: tuple[int | None, int | None]) -> bool:
        lower, upper = ends
        return (lower is None or error >= lower) and (upper is None or error <= upper)

    if within(carried.accepted):
        return error, "in_tolerance"
    if not within(carried.outer):
        return error, "out_of_tolerance"
    if carried.between != "conditional":
        return error, carried.between
    return error, "conditional_inside" if within(carried.limits) else "conditional_outside"


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return generated()


def test_the_cases_meet_every_verdict_and_every_edge(cases: list[Case]) -> None:
    assert len(cases) == 10_000
    assert {case.verdict for case in cases} == {str(verdict) for verdict in Verdict}
    assert sum(case.error in _edges(case.integers) for case in cases) > 5_000


def test_the_integers_say_what_the_server_says(cases: list[Case]) -> None:
    assert [port(case.raw, case.integers) for case in cases] == [(case.error, case.verdict) for case in cases]


@pytest.mark.browser
def test_the_script_says_what_the_server_says(cases: list[Case], chromium_path: str) -> None:
    judged, written = _in_browser([(case.raw, case.goal) for case in cases], chromium_path)
    assert judged == [[str(case.error), case.verdict] for case in cases]
    expected = [
        figures.signed(from_picometres(case.error) / UNITS[case.integers.unit], places=4) for case in cases
    ]
    assert written == expected


ANGLES = (
    "45 05",
    "45°05′",
    "45° 5'",
    "45°",
    "5'",
    "0",
    "-0 05",
    "−45 10",
    "360 00",
    "45.05",
    "45",
    "45 60",
    "45 05 30",
)


@pytest.mark.browser
def test_the_script_reads_degrees_and_minutes_as_the_server_does(chromium_path: str) -> None:
    from playwright.sync_api import sync_playwright

    script = finders.find("instruments/bench/figures.js")
    asked = [*((raw, "′") for raw in ANGLES), *((raw, "°") for raw in ("45.01", "45,01°", "-0.01", "45°05′"))]
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        page = browser.new_page()
        page.route(f"{HOST}/", lambda route: route.fulfill(body="<!doctype html>", content_type="text/html"))
        page.route(f"{HOST}/figures.js", lambda route: route.fulfill(path=str(script)))
        page.goto(f"{HOST}/")
        said = page.evaluate(
            """async (asked) => {
              const { picometres } = await import("/figures.js");
              return asked.map(([raw, unit]) => picometres(raw, unit)?.toString() ?? "");
            }""",
            asked,
        )
        browser.close()
    assert said == [_kept(raw, unit) for raw, unit in asked]


def _kept(raw: str, unit: str) -> str:
    """Give what the server keeps of a typed angle, in billionths of an arc second; nothing where it refuses."""
    try:
        return str(to_picometres(parse_reading(raw, unit=Unit(unit), step=None).value_mm))
    except LabError:
        return ""


def _in_browser(asked: list[tuple[str, dict[str, str]]], chromium_path: str) -> tuple[Any, Any]:
    """Let the script itself judge, served under the policy that the pages have."""
    from playwright.sync_api import sync_playwright

    script = finders.find("instruments/bench/figures.js")
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        page = browser.new_page()
        page.route(f"{HOST}/", lambda route: route.fulfill(body="<!doctype html>", content_type="text/html"))
        page.route(f"{HOST}/figures.js", lambda route: route.fulfill(path=str(script)))
        page.goto(f"{HOST}/")
        answer = page.evaluate(
            """async (asked) => {
              const { judge, written } = await import("/figures.js");
              const found = asked.map(([raw, goal]) => [judge(raw, goal), goal.unit]);
              return [
                found.map(([{ error, verdict }]) => [error.toString(), verdict]),
                found.map(([{ error }, unit]) => written(error, unit, 4)),
              ];
            }""",
            asked,
        )
        browser.close()
    return answer[0], answer[1]


def test_the_bench_carries_what_its_points_are_judged_by(player: Player) -> None:
    """Through a whole session: what a point carried before its reading gives the verdict it has after."""
    player.begin()
    for number, point in enumerate(player.points()):
        carried = of_point(prospect_of(_read(point), ground_of(player.run)), ground_of(player.run))
        raw = f"{point.nominal_mm + (number - 4) * D('0.01'):.2f}"
        player.read(point, raw)
        found = evaluate_point(_read(point), ground_of(player.run))
        assert found is not None and carried is not None
        assert port(raw, carried) == (to_picometres(found.error_mm), str(found.verdict))


def _read(point: Point) -> Point:
    return Point.objects.prefetch_related("readings__strike", "references").get(pk=point.pk)
