"""What subjects stand for: names in one question per kind, and what nobody explains stays as it is."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

import pytest

from labsys.journal import subjects
from labsys.journal.subjects import Kind, KindTaken, Shown


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[set[int]]]:
    monkeypatch.setattr(subjects, "_kinds", {})
    questions: list[set[int]] = []

    def names(ids: Collection[int]) -> Mapping[int, str]:
        questions.append(set(ids))
        return {1: "one", 2: "two"}

    subjects.register(
        Kind("thing", "thing", "journal-entry", names, lambda text: [2] if text == "two" else [])
    )
    subjects.register(Kind("bare", "bare thing"))
    yield questions


def test_each_kind_is_asked_once(asked: list[set[int]]) -> None:
    found = subjects.shown(
        ["thing:1", "thing:2", "thing:1", "thing:9", "bare:4", "other:1", "laboratory", ""]
    )
    assert asked == [{1, 2, 9}]
    assert found["thing:1"] == Shown("thing one", "/journal/1/")
    assert found["thing:9"].text == "thing 9"
    assert found["bare:4"] == Shown("bare thing 4")
    assert [found[text] for text in ("other:1", "laboratory", "")] == [
        Shown("other:1"),
        Shown("laboratory"),
        Shown(""),
    ]


def test_a_text_is_looked_for_in_every_kind(asked: list[set[int]]) -> None:
    assert subjects.found_by("two") == ["thing:2"]
    assert subjects.found_by("other:12") == ["other:12"]
    assert subjects.found_by("three") == []


def test_a_kind_is_explained_once(asked: list[set[int]]) -> None:
    subjects.register(Kind("bare", "bare thing"))
    with pytest.raises(KindTaken, match="bare thing"):
        subjects.register(Kind("bare", "something else"))
