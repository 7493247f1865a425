"""The corridor in words says the numbers that the picture shows, to what U allows, and the margin."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from labsys.pages.corridor import Earlier, words
from tests.labsys.pages.test_corridor import OUTSIDE

D = Decimal
GAP = "\N{NO-BREAK SPACE}"


def test_title_and_description() -> None:
    data = replace(OUTSIDE, as_found=Earlier(D("0.0412"), "out_of_tolerance"))
    assert words.title(data) == f"Outside, 100 mm: error +0.0120{GAP}mm, U 0.0060{GAP}mm, in tolerance"
    assert words.description(data) == (
        f"Limits −0.03 to +0.03{GAP}mm. Accepted −0.024 to +0.024{GAP}mm. "
        f"Inside the nearer limit by 0.0180{GAP}mm. As found +0.0412{GAP}mm, out of tolerance."
    )


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        ("0.030", "Exactly on the limit."),
        ("-0.030", "Exactly on the limit."),
        ("0.034", f"Outside the nearer limit by 0.0040{GAP}mm."),
        ("-0.0301", f"Outside the nearer limit by 0.0001{GAP}mm."),
        ("0.029999999", f"Inside the nearer limit by 0.000000001{GAP}mm."),
    ],
)
def test_margin(error: str, sentence: str) -> None:
    assert words.margin_sentence(replace(OUTSIDE, error_mm=D(error))) == sentence


def test_a_margin_never_rounds_away_and_the_error_shows_why() -> None:
    """With U = 0.013 an error of 0.0304 would print as +0.030, on its limit; it is outside and must look so."""
    data = replace(OUTSIDE, error_mm=D("0.0304"), U_mm=D("0.013"))
    assert words.margin_sentence(data) == f"Outside the nearer limit by 0.0004{GAP}mm."
    assert words.error_text(data, data.error_mm) == f"+0.0304{GAP}mm"


def test_inches_are_shown_in_inches() -> None:
    data = replace(
        OUTSIDE, unit="in", error_mm=D("0.0127"), U_mm=D("0.00508"), lower_mm=D("-0.0254"), upper_mm=D("0.0254"),
        acceptance_lower_mm=None, acceptance_upper_mm=None, step_text="0.0005",
    )  # fmt: skip
    assert words.title(data) == f"Outside, 100 mm: error +0.00050{GAP}in, U 0.00020{GAP}in, in tolerance"
    assert words.description(data) == (
        f"Limits −0.0010 to +0.0010{GAP}in. Inside the nearer limit by 0.00050{GAP}in."
    )


def test_one_limit_and_none() -> None:
    upper = replace(OUTSIDE, lower_mm=None, acceptance_lower_mm=None)
    assert words.description(upper).startswith(f"Limits up to +0.03{GAP}mm. Accepted up to +0.024{GAP}mm.")
    bare = replace(upper, upper_mm=None, acceptance_upper_mm=None)
    assert words.description(bare) == "There is no limit."


def test_the_uncertainty_is_named_as_the_rule_names_it() -> None:
    assert "test-value uncertainty 0.0060" in words.title(replace(OUTSIDE, U_name="test-value uncertainty"))
