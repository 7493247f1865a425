"""Answering a file of questions: reads its form, asks the kind named, compares with what the file expects.

Lives here: the front door and the list of kinds. May not live here: files, the command line.
"""

from __future__ import annotations

import inspect
import json
import sys
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, Final

from labsys.errors import LabError
from labsys.metrology.questions import (
    budget,
    chart,
    comparison,
    conversion,
    coverage,
    decision,
    drift,
    due_date,
    fit,
    interval,
    periodic,
    reevaluation,
    risk,
    rounding,
    simulation,
    sine_bar,
    stability,
    stack,
    study,
    temperature,
)
from labsys.metrology.questions.answers import Answer, Plain
from labsys.metrology.questions.expected import Compared, compare, read_expected
from labsys.metrology.questions.fields import Fields, QuestionUnreadable, refuse

FORMAT: Final = 1

KINDS: Final[Mapping[str, Callable[[Fields], Answer]]] = {
    "budget": budget.answer,
    "chart": chart.answer,
    "comparison": comparison.answer,
    "conversion": conversion.answer,
    "coverage": coverage.answer,
    "decision": decision.answer,
    "drift": drift.answer,
    "due_date": due_date.answer,
    "fit": fit.answer,
    "interval": interval.answer,
    "periodic": periodic.answer,
    "reevaluation": reevaluation.answer,
    "risk": risk.answer,
    "rounding": rounding.answer,
    "simulation": simulation.answer,
    "sine_bar": sine_bar.answer,
    "stability": stability.answer,
    "stack": stack.answer,
    "study": study.answer,
    "temperature": temperature.answer,
}
"""Every kind of question by the word it has in a file."""


class QuestionRefused(LabError, ValueError):
    """A question that can be read and has no answer."""

    code = "question-refused"
    sentence = "At {place}: {reason}"


def form_of(kind: str) -> str:
    """Give the documented form of a kind: what it answers, its fields, the values it gives."""
    return inspect.cleandoc(sys.modules[KINDS[kind].__module__].__doc__ or "")


def parse_file(text: str) -> object:
    """Read the text of a file; numbers stay as exact as they are written. Raises QuestionUnreadable."""
    try:
        return json.loads(text, parse_float=Decimal, parse_constant=_no_number)
    except json.JSONDecodeError as fault:
        place = f"line {fault.lineno}, column {fault.colno}"
        raise QuestionUnreadable(place=place, expected="JSON", found=fault.msg) from fault


def answer_file(content: object) -> dict[str, Plain]:
    """Answer the questions of one file, given as plain objects.

    Raises QuestionUnreadable where the form is wrong and QuestionRefused where the arithmetic refuses, both naming
    the place.
    """
    whole = Fields(content, "file")
    if whole.count("format", FORMAT) != FORMAT:
        raise refuse("file.format", f"{FORMAT}", whole.raw("format"))
    about = whole.text("about", "")
    source = whole.raw("source", None)
    answers: list[Plain] = [_answer(one) for one in whole.objects("questions")]
    whole.finish()
    return {"format": FORMAT, "about": about, "source": source, "answers": answers}


def disagreements(answered: Mapping[str, Any]) -> list[dict[str, Any]]:
    """List the comparisons of an answered file that failed."""
    return [one for each in answered["answers"] for one in each["compared"] if not one["agrees"]]


def _no_number(word: str) -> object:
    raise QuestionUnreadable(place="the file", expected="finite numbers", found=word)


def _answer(question: Fields) -> dict[str, Plain]:
    kind = question.text("kind")
    if kind not in KINDS:
        raise refuse(question.at("kind"), "one of " + ", ".join(sorted(KINDS)), kind)
    name = question.text("name", "")
    expected = [read_expected(one) for one in question.objects("expected", [])]
    found = _asked(kind, question).to_json()
    compared = [_compared(one, found["values"], question) for one in expected]
    return {"name": name, "kind": kind, **found, "compared": [one.to_json() for one in compared]}


def _asked(kind: str, question: Fields) -> Answer:
    try:
        return KINDS[kind](question)
    except QuestionUnreadable:
        raise
    except LabError as refusal:
        raise QuestionRefused(place=question.place, reason=str(refusal)) from refusal


def _compared(expected: Any, values: Plain, question: Fields) -> Compared:
    return compare(expected, values, question.at("expected"))
