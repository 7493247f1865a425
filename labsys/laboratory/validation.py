"""Holding the arithmetic of this installation against the known answers that come with it (ISO/IEC 17025, 7.11.2).

Lives here: reading the shipped files and what a run of them came to. May not live here: arithmetic, recording.
"""

from __future__ import annotations

import json
import platform
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labsys.metrology.questions.asking import answer_file, parse_file

FOLDER = Path(__file__).resolve().parent.parent / "known_answers"


@dataclass(frozen=True)
class Difference:
    """An expected value that was not found."""

    case: str
    quantity: str
    printed: str
    found: str


@dataclass(frozen=True)
class Validation:
    """What a run of all known answers came to, and what it ran on."""

    cases: int
    values: int
    differences: tuple[Difference, ...]
    runs_on: str

    @property
    def agrees(self) -> bool:
        """Say whether everything was found as printed."""
        return not self.differences

    def to_json(self) -> dict[str, Any]:
        """Give what is recorded."""
        return {
            "cases": self.cases,
            "values": self.values,
            "differing": [f"{one.case}: {one.quantity}" for one in self.differences],
            "runs_on": self.runs_on,
        }


@dataclass(frozen=True)
class KnownCase:
    """One shipped file: its name, what it is about, where its values come from, how many it holds."""

    name: str
    about: str
    source: str
    values: int


def cases() -> tuple[KnownCase, ...]:
    """List the shipped cases, without answering them."""
    return tuple(_case(path, json.loads(path.read_text(encoding="utf-8"))) for path in _files())


def example_of(kind: str) -> str:
    """Give the first shipped question of a kind, as a file of its own; empty where there is none."""
    for path in _files():
        for question in json.loads(path.read_text(encoding="utf-8"))["questions"]:
            if question["kind"] == kind:
                return json.dumps({"format": 1, "questions": [question]}, ensure_ascii=False, indent=2)
    return ""


def validate() -> Validation:
    """Answer every shipped case and compare; takes seconds."""
    compared = [(path.stem, one) for path in _files() for one in _compared(path)]
    differing = tuple(
        Difference(case, str(one["quantity"]), str(one["printed"]), str(one["found"]))
        for case, one in compared
        if not one["agrees"]
    )
    return Validation(len(_files()), len(compared), differing, _machine())


def _compared(path: Path) -> Iterator[dict[str, Any]]:
    answered: Any = answer_file(parse_file(path.read_text(encoding="utf-8")))
    for one in answered["answers"]:
        yield from one["compared"]


def _files() -> list[Path]:
    return sorted(FOLDER.glob("*.json"))


def _case(path: Path, content: dict[str, Any]) -> KnownCase:
    count = sum(len(question.get("expected", ())) for question in content["questions"])
    return KnownCase(path.stem, content["about"], content["source"], count)


def _machine() -> str:
    import numpy
    import scipy

    return (
        f"Python {platform.python_version()}, numpy {numpy.__version__}, scipy {scipy.__version__}, "
        f"{platform.machine()} {sys.platform}"
    )
