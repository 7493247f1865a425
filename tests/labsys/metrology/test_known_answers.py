"""The known answers that come with the program: every value found, every print as in its published copy, none left out.

The published copies (tests/golden/published) hold the source beside each value; what a laboratory runs to validate
its installation must say the same.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

import pytest

from labsys.metrology.questions.asking import KINDS, answer_file, disagreements, parse_file

ROOT = Path(__file__).parents[3]
FILES = sorted((ROOT / "labsys" / "known_answers").glob("*.json"))
PUBLISHED = ROOT / "tests" / "golden" / "published"

# Cases of the references that are no question to the arithmetic, each with the reason.
SHIPPED = "limits that ship: tests/instruments/procedures/test_shipped_limits.py"
ELSEWHERE = {
    "caliper-common-practice": "whole sessions with their verdicts: tests/journeys/test_common_practice.py",
    "micrometer-lengths": "lengths, no results: tests/instruments/procedures/test_series.py",
    "fixed-gauge-examples": SHIPPED,
    "gauge-block-grades": SHIPPED,
    "inside-micrometer-limits": SHIPPED,
    "micrometer-limits": SHIPPED,
    "plain-gauge-classes": SHIPPED,
    "plate-flatness": SHIPPED,
}


def parsed(path: Path) -> Any:
    return parse_file(path.read_text(encoding="utf-8"))


def published() -> dict[str, Any]:
    """Give every published case by its id; files of several cases hold them in a list."""
    found: dict[str, Any] = {}
    for path in PUBLISHED.glob("*.json"):
        content = json.loads(path.read_text(encoding="utf-8"))
        for case in content.get("cases", [content]):
            if "id" in case:
                found[case["id"].lower()] = case
    return found


def scalars(value: Any) -> Iterator[str]:
    """Give every single value in a case as text."""
    if isinstance(value, dict):
        for one in value.values():
            yield from scalars(one)
    elif isinstance(value, list):
        for one in value:
            yield from scalars(one)
    else:
        yield str(value)


def same(one: str, other: str) -> bool:
    """Say whether two prints are one value; a comparison may be stated in another power of ten."""
    try:
        first, second = Decimal(one), Decimal(other)
    except InvalidOperation:
        return one == other
    return first == second or any(first.scaleb(shift) == second for shift in (-9, -6, -3, -2, 2, 3, 6, 9))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_value_is_found_as_printed(path: Path) -> None:
    answered = answer_file(parsed(path))
    assert disagreements(answered) == []
    compared = [one for each in answered["answers"] for one in each["compared"]]  # type: ignore[union-attr,index,call-overload]
    assert compared, "a case without an expected value proves nothing"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_case_names_its_source_and_prints_what_its_published_copy_prints(path: Path) -> None:
    content, copies = parsed(path), published()
    assert content["source"].strip() and content["about"].strip()
    for question in content["questions"]:
        copy = copies.get(str(question.get("name", "")).lower()) or copies.get(path.stem.lower())
        assert copy is not None, f"no published copy with the id {path.stem} or {question.get('name')}"
        known = set(scalars(copy))
        for expected in question.get("expected", []):
            if isinstance(expected["printed"], bool):
                continue  # how a run went, not a figure that somebody printed
            printed = str(expected["printed"])
            assert any(same(printed, one) for one in known), (
                question.get("name"),
                expected["quantity"],
                printed,
            )


def test_every_published_case_is_asked_or_named_with_its_reason() -> None:
    names = {str(one.get("name", "")).lower() for path in FILES for one in parsed(path)["questions"]}
    asked = names | {path.stem.lower() for path in FILES}
    missing = sorted(set(published()) - asked - set(ELSEWHERE))
    assert missing == []


def test_every_kind_of_question_has_a_known_answer() -> None:
    asked = {question["kind"] for path in FILES for question in parsed(path)["questions"]}
    assert asked == set(KINDS)


def test_a_changed_print_would_be_noticed() -> None:
    content = {"questions": [{"kind": "rounding", "error": 0, "U": "0.0593", "expected": [
        {"quantity": "U", "printed": "0.058"}]}]}  # fmt: skip
    assert len(disagreements(answer_file(content))) == 1
