"""Numbers, dates and times as people read them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from labsys.pages import figures

D = Decimal


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("0.012", None, "+0.012"),
        ("-0.012", None, "−0.012"),
        ("0", None, "0"),
        ("-0.000", 3, "0.000"),
        ("-0.0004", 3, "0.000"),
        ("1E-7", None, "+0.0000001"),
        ("25.400000000", None, "+25.4"),
        ("100", None, "+100"),
        ("0.0125", 3, "+0.012"),
        ("0.0135", 3, "+0.014"),
        ("12", 2, "+12.00"),
    ],
)
def test_signed(value: str, places: int | None, text: str) -> None:
    assert figures.signed(D(value), places=places) == text


@given(st.decimals(min_value=-1_000_000, max_value=1_000_000, places=9))
def test_what_is_shown_is_the_number(value: Decimal) -> None:
    assert Decimal(figures.signed(value).replace("−", "-")) == value


@given(st.decimals(min_value=-1000, max_value=1000, places=9))
def test_an_error_always_has_its_sign(value: Decimal) -> None:
    first = figures.signed(value)[0]
    assert first == ("+" if value > 0 else "−" if value < 0 else "0")


def test_times_stand_in_the_labs_zone() -> None:
    instant = datetime(2026, 3, 28, 23, 30, tzinfo=UTC)
    assert figures.when(instant, zone=ZoneInfo("Europe/Vienna")) == "2026-03-29 00:30"
    assert (
        figures.when(datetime(2026, 7, 1, 22, 0, tzinfo=UTC), zone=ZoneInfo("Europe/Vienna"))
        == "2026-07-02 00:00"
    )


def render(text: str, **context: object) -> str:
    return Template("{% load figures %}" + text).render(Context(context))


def test_tags(settings: object) -> None:
    settings.LAB_ZONE = "Europe/Vienna"  # type: ignore[attr-defined]
    gap = "\N{NO-BREAK SPACE}"
    assert render("{% mm v %}", v=D("131.400")) == (
        f'<span class="figure">131.4{gap}<span class="unit">mm</span></span>'
    )
    assert render("{% signed v places=3 unit='in' %}", v=D("-0.5")) == (
        f'<span class="figure">−0.500{gap}<span class="unit">in</span></span>'
    )
    assert render("{% on d %}", d=date(2026, 11, 25)) == '<time datetime="2026-11-25">2026-11-25</time>'
    assert render("{% when t %}", t=datetime(2026, 11, 25, 6, 43, tzinfo=UTC)) == (
        '<time datetime="2026-11-25T06:43:00+00:00">2026-11-25 07:43</time>'
    )


def test_nothing_is_a_dash() -> None:
    assert render("{% mm v %}{% signed v %}{% on v %}{% when v %}", v=None) == "––––"
