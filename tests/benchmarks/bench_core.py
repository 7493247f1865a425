"""How long the core takes to be read, and one budget to be worked out while somebody types a reading.

Run by naming the file: pytest tests/benchmarks/bench_core.py -s
"""

from __future__ import annotations

import math
import os
import pkgutil
import resource
import subprocess
import sys
from collections.abc import Callable, Sequence
from decimal import Decimal

import pytest

import labsys.metrology
from labsys.metrology.components import Component
from labsys.metrology.decision import Limits, Rule, RuleKind, decide
from labsys.metrology.error import error_of_indication
from labsys.metrology.evaluation import evaluate
from labsys.metrology.views import View
from tests.benchmarks.ratios import fastest, say
from tests.labsys.metrology.calipers import CALIPER, GRADE_1_LIMIT_MM, on_a_block

pytestmark = pytest.mark.benchmark

MOST_OVER_NUMPY = 3.0
"""The budget: half a second where numpy alone takes a sixth."""

MOST_OVER_SQUARES = 400.0
"""The budget: well inside 2 ms where a bare sum of squares takes two or three microseconds."""

IMPORTS, EVALUATIONS = 9, 300
LENGTH = max(GRADE_1_LIMIT_MM)
POINT = LENGTH, Decimal("0.01")
CLOSINGS = [Decimal("0.01")] * 10


def test_importing_the_core_over_importing_numpy() -> None:
    names = [found.name for found in pkgutil.walk_packages(labsys.metrology.__path__, "labsys.metrology.")]
    core = "\n".join(f"import {name}" for name in names) + "\nimport sys\nassert 'django' not in sys.modules"
    programs = (_fresh(program) for program in ("import numpy", core, "pass"))
    numpy, whole, nothing = fastest(IMPORTS, *programs, clock=_of_children)
    say(
        f"import of {len(names)} modules of the core: {whole * 1e3:.0f} ms, of numpy {numpy * 1e3:.0f} ms, "
        f"of nothing {nothing * 1e3:.0f} ms; ratio {whole / numpy:.2f}"
    )
    assert whole / numpy < MOST_OVER_NUMPY


def test_one_budget_live_over_a_bare_sum_of_squares() -> None:
    inputs = on_a_block(*POINT, limit_mm=GRADE_1_LIMIT_MM[LENGTH], closings_mm=CLOSINGS)
    views = evaluate(CALIPER, inputs)
    components = [row.component for row in views.calibration.rows]
    assert squares(components) == pytest.approx(views.calibration.u_mm)
    floor, taken = fastest(EVALUATIONS, lambda: squares(components), lambda: evaluate(CALIPER, inputs))
    say(
        f"both views of one point, {len(components)} components: {taken * 1e3:.3f} ms, "
        f"{taken / floor:.0f} bare sums of squares ({floor * 1e6:.2f} µs)"
    )
    assert taken / floor < MOST_OVER_SQUARES


def test_a_reading_typed_in_until_its_verdict() -> None:
    inputs = on_a_block(*POINT, limit_mm=GRADE_1_LIMIT_MM[LENGTH], closings_mm=CLOSINGS)
    components = [row.component for row in evaluate(CALIPER, inputs).calibration.rows]
    rule, limits = Rule(RuleKind.FOUR_WAY, View.CALIBRATION), Limits(Decimal("-0.05"), Decimal("0.05"))

    def live() -> object:
        error = error_of_indication(reading_mm=Decimal("100.02"), length_mm=Decimal(100), temperatures=None)
        return decide(error_mm=error, limits=limits, rule=rule, views=evaluate(CALIPER, inputs))

    floor, taken = fastest(EVALUATIONS, lambda: squares(components), live)
    say(f"reading, both views, verdict: {taken * 1e3:.3f} ms, {taken / floor:.0f} bare sums of squares")
    assert taken / floor < MOST_OVER_SQUARES


def squares(components: Sequence[Component]) -> float:
    """Work u out in one line of plain Python."""
    return math.sqrt(sum((one.sensitivity * one.size / one.divided_by) ** 2 for one in components))


def _of_children() -> float:
    """Give the seconds of processor time that programs run from here have taken."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _fresh(program: str) -> Callable[[], object]:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPROFILEIMPORTTIME"}
    command = [sys.executable, "-c", program]
    return lambda: subprocess.run(command, check=True, env=environment)
