"""EA-4/02, example S10, through a session and its certificate: a vernier caliper at 150 mm, reading 150.10 mm.

Source: EA-4/02 M, supplement, example S10 (standard uncertainties, k and U transcribed in a public test file; limits,
estimates and E from memory). Components: gauge block ±0.8 µm, temperature difference ±2 K at 1.725 µm/K, resolution
±25 µm, mechanical effects ±50 µm, all rectangular; p = 95 %. Expected: E = 0.10 mm, U = 0.06 mm, k = 1.83 from the
trapezoid of the two dominant rectangles; unrounded u = 32.3 µm, U = 59.3 µm.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from instruments.certificates.operations import sign_off
from instruments.certificates.queries import document_of
from instruments.measuring.models import Result, Submission
from instruments.procedures.content import Band, Content, ZeroPolicy
from tests import laboratory
from tests.bench import Player
from tests.instruments.certificates.traced import trace
from tests.laboratory import Lab, proof

D = Decimal
BUDGET = (
    {"kind": "constant", "name": "gauge block", "size_mm": "0.0008", "distribution": "rectangular"},
    {"kind": "temperature_difference", "name": "temperature difference", "half_width_k": "2"},
    {"kind": "reading", "name": "resolution"},
    {"kind": "geometry", "name": "contact, parallelism, Abbe", "half_width_mm": "0.05"},
)


@pytest.fixture
def content() -> Content:
    """The procedure of the example: one outside point at 150 mm, no zero set, one digit of U."""
    shipped = laboratory.shipped()
    assert shipped.points is not None
    points = replace(
        shipped.points,
        bands=(Band(range_up_to_mm=D(160), least_points=1, lengths_mm=(D(150),)),),
        windows={},
        places=("middle",),
        longest_at=("middle",),
        low_share=D(1),
    )
    rule = {"kind": "simple", "view": "test_value", "min_ratio": "4"}
    return laboratory.shipped(
        points=points,
        budget=BUDGET,
        repeatability=None,
        probability=0.95,
        digits=1,
        rule=rule,
        zero=ZeroPolicy(fixed=True),
    )


@pytest.fixture
def submission(lab: Lab, sit: Callable[..., Player]) -> Submission:
    trace(lab)
    laboratory.agreed(lab)
    model = laboratory.caliper_model(
        lab,
        limit_mm="0.15",
        indication="vernier",
        resolution=D("0.05"),
        functions=("outside",),
        inside_jaws="none",
    )
    player = sit(laboratory.caliper_gauge(lab, model))
    player.begin()
    for point in player.points():
        player.read(point, "150.10")
    return player.finish()


@pytest.fixture
def result(submission: Submission) -> Result:
    return Result.objects.get(submission=submission, function="outside")


def test_the_session_gives_the_published_figures(result: Result) -> None:
    budget = json.loads(result.budget)["calibration"]
    assert abs(result.value_mm - D("0.10")) < D("0.005")
    assert abs(float(budget["u_mm"]) * 1000 - 32.3) < 0.05
    assert result.U_mm is not None and result.k is not None
    assert abs(result.U_mm * 1000 - D("59.3")) < D("0.1")
    assert abs(result.k - D("1.83")) < D("0.005")
    assert budget["shape"] == "trapezoidal"


def test_the_certificate_says_them_to_one_digit(submission: Submission, lab: Lab, result: Result) -> None:
    now = submission.submitted_at
    row = sign_off(submission=submission, proof=proof(lab.reviewer, now), by=lab.reviewer, now=now)
    text = json.dumps(json.loads(row.document), ensure_ascii=False)
    lines = [line for stage in document_of(row).stages for line in stage.lines]
    line = next(line for line in lines if line.nominal_mm == 150)
    assert (line.printed.error, line.printed.U) == ("+0.10", "0.06")
    assert line.k is not None
    assert round(line.k, 2) == D("1.83")
    assert "95 %" in text
    assert "trapez" in text
