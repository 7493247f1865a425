"""Whatever the journal speaks of is explained: a reader sees a tag and a link, not a number."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest
from django.urls import NoReverseMatch, reverse

from labsys.journal import subjects
from tests.rules import tree

# A day is a date and says itself.
SELF_EXPLAINING = {"day"}


def written(module: ast.Module) -> Iterator[str]:
    """Find the kinds of subjects that a module's notes and refusals speak of."""
    for node in ast.walk(module):
        if not isinstance(node, ast.Call):
            continue
        named = [word.value for word in node.keywords if word.arg == "subject"]
        noted = node.args[:1] if ast.unparse(node.func) == "note" else []
        for value in (*named, *noted):
            first = value.values[0] if isinstance(value, ast.JoinedStr) else None
            if isinstance(first, ast.Constant) and str(first.value).endswith(":"):
                yield str(first.value)[:-1]


def test_every_kind_of_subject_is_explained() -> None:
    kinds = {kind for _name, _text, module in tree.sources() for kind in written(module)}
    assert {"gauge", "person", "standard", "session"} <= kinds
    assert sorted(kinds - set(subjects._kinds) - SELF_EXPLAINING) == []


def test_every_page_of_a_subject_takes_its_number() -> None:
    for kind in subjects._kinds.values():
        if kind.url_name:
            try:
                reverse(kind.url_name, args=[1])
            except NoReverseMatch:
                pytest.fail(f"{kind.code} has no page {kind.url_name}")


@pytest.mark.django_db
def test_every_explained_kind_can_be_asked_for_names() -> None:
    found = subjects.shown(f"{code}:1" for code in subjects._kinds)
    assert len(found) == len(subjects._kinds)
    assert subjects.found_by("nobody and nothing") == []


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ('note(f"gauge:{pk}", after={})', ["gauge"]),
        ('Refused(name="x", subject=f"person:{a.pk}")', ["person"]),
        ('note("laboratory")', []),
        ('owe(f"gauge:{pk}")', []),
    ],
)
def test_the_search_finds_what_it_is_for(line: str, found: list[str]) -> None:
    assert list(written(ast.parse(line))) == found
