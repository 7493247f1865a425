"""Tags are found whatever their capitals, by the index that keeps them apart."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import connection

from labsys.laboratory.models import Tag
from labsys.laboratory.queries import called

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize("text", ["CAL-1", "cal-1", " Cal-1 "])
def test_a_tag_is_found_whatever_its_capitals(text: str, db: None) -> None:
    made = Tag.objects.create(text="Cal-1", created_at=NOW)
    Tag.objects.create(text="Cal-10", created_at=NOW)
    assert list(called(Tag.objects.all(), text, "text")) == [made]


@pytest.mark.parametrize("text", ["%", "_AL-1", "CAL-", ""])
def test_signs_of_patterns_mean_themselves(text: str, db: None) -> None:
    Tag.objects.create(text="CAL-1", created_at=NOW)
    assert not called(Tag.objects.all(), text, "text").exists()


@pytest.mark.skipif(
    connection.vendor != "sqlite", reason="only on SQLite: a planner with few rows may read them all"
)
def test_the_index_answers(db: None) -> None:
    plan = called(Tag.objects.all(), "cal-1", "text").explain()
    assert "tag_text_unique" in plan
