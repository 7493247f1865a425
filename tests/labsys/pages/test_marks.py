"""Standing and verdict are always a field with its shape and its word."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from django.template import Context, Template

from labsys.pages import standing, verdicts
from labsys.pages.corridor import VERDICTS, UnknownVerdict
from tests.labsys.pages.test_corridor import numbers

WORDS = {"use": "use", "use_with_restriction": "use with restriction", "do_not_use": "do not use"}


def shown(tag: str, value: str | None) -> ElementTree.Element:
    return ElementTree.fromstring(
        Template(f"{{% load pictures %}}{{% {tag} value %}}").render(Context({"value": value}))
    )


@pytest.mark.parametrize("value", WORDS)
def test_standing(value: str) -> None:
    root = shown("standing", value)
    assert "".join(root.itertext()).strip() == WORDS[value]
    assert root.find("svg/path") is not None
    assert len((root.get("class") or "").split()) == 2


def test_the_three_standings_differ_in_field_and_shape() -> None:
    marks = list(standing.MARKS.values())
    assert len({mark.field for mark in marks}) == len({mark.shape for mark in marks}) == 3


def test_the_shapes_stay_on_their_grid() -> None:
    for mark in standing.MARKS.values():
        absolute = [part for part in mark.shape.split("M") if part]
        starts = [numbers(part)[:2] for part in absolute]
        assert all(0 <= x <= 24 and 0 <= y <= 24 for x, y in starts)


def test_an_unknown_standing_never_looks_like_a_known_one() -> None:
    for word in ("", "ok", "USE", "in tolerance"):
        with pytest.raises(ValueError):
            standing.mark(word)
    assert standing.mark("do not use").standing is standing.Standing.DO_NOT_USE


@pytest.mark.parametrize("verdict", VERDICTS)
def test_verdict(verdict: str) -> None:
    root = shown("verdict", verdict)
    assert "".join(root.itertext()).strip() == verdict.replace("_", " ")
    assert "state-plain" not in (root.get("class") or "")


def test_no_verdict_and_an_unknown_one() -> None:
    assert "".join(shown("verdict", None).itertext()).strip() == "no verdict"
    with pytest.raises(UnknownVerdict):
        verdicts.mark("passed")


def test_bad_and_good_share_neither_field_nor_shape() -> None:
    good, bad = verdicts.mark("in_tolerance"), verdicts.mark("out_of_tolerance")
    assert good.field != bad.field
    assert good.shape != bad.shape
