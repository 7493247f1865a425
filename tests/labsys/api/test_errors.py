"""Every error has one shape, whoever refused."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, ClassVar

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404
from rest_framework import exceptions

from labsys.api.errors import handle
from labsys.errors import LabError


class Late(LabError):
    code: ClassVar[str] = "late"
    sentence: ClassVar[str] = "It was due on {day}, {length} mm ago."
    field: ClassVar[str | None] = "day"


class LateInput(Late, ValueError):
    pass


class LateAuthority(Late, PermissionError):
    pass


class LateThing(Late, LookupError):
    pass


@pytest.mark.parametrize(
    ("kind", "status"), [(Late, 409), (LateInput, 400), (LateAuthority, 403), (LateThing, 404)]
)
def test_a_refusal_says_code_sentence_fields_and_facts(kind: type[Late], status: int) -> None:
    answer = handle(kind(day=date(2026, 1, 31), length=Decimal("0.010")), {})
    assert answer is not None
    assert answer.status_code == status
    assert answer.data == {
        "code": "late",
        "sentence": "It was due on 2026-01-31, 0.010 mm ago.",
        "fields": {"day": ["It was due on 2026-01-31, 0.010 mm ago."]},
        "data": {"day": "2026-01-31", "length": "0.010"},
    }


@pytest.mark.parametrize(
    ("problem", "status", "code"),
    [
        (exceptions.NotAuthenticated(), 401, "not-authenticated"),
        (exceptions.MethodNotAllowed("PUT"), 405, "method-not-allowed"),
        (Http404("no"), 404, "not-found"),
        (PermissionDenied(), 403, "permission-denied"),
    ],
)
def test_the_frameworks_errors_have_the_same_shape(problem: Exception, status: int, code: str) -> None:
    answer = handle(problem, {})
    assert answer is not None
    assert (answer.status_code, answer.data["code"], answer.data["fields"]) == (status, code, {})
    assert answer.data["sentence"].endswith(".")


@pytest.mark.parametrize(
    "problem",
    [
        exceptions.ValidationError({"serial": ["Too long."]}),
        ValidationError({"serial": ["Too long."]}),
        exceptions.ValidationError({"serial": {"part": ["Too long."]}}),
    ],
)
def test_wrong_input_names_its_field(problem: Exception) -> None:
    answer: Any = handle(problem, {})
    assert answer.status_code == 400
    assert list(answer.data["fields"]) == ["serial"]
    assert "Too long." in answer.data["sentence"]


def test_a_fault_of_the_program_stays_one() -> None:
    assert handle(RuntimeError("a bug"), {}) is None
