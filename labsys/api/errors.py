"""Errors as programs read them: always ``code``, ``sentence``, ``fields`` and ``data``, whoever refused."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.exceptions import ValidationError as ModelError
from django.http import Http404
from drf_spectacular.utils import inline_serializer
from rest_framework import exceptions, serializers
from rest_framework.response import Response
from rest_framework.views import exception_handler

from labsys.errors import LabError

TOP = "non_field_errors"


# The one shape of every error. Made inline, because a serializer's class has a ``fields`` of its own.
ERROR = inline_serializer(
    name="Error",
    fields={
        "code": serializers.CharField(help_text="stable, for programs: tag-taken, not-authenticated …"),
        "sentence": serializers.CharField(
            help_text="for people: what was expected, what was found, what to do next"
        ),
        "fields": serializers.DictField(
            child=serializers.ListField(child=serializers.CharField()),
            help_text="sentences by the field or parameter they belong to",
        ),
        "data": serializers.DictField(help_text="the facts the sentence was made of"),
    },
)


def handle(problem: Exception, context: dict[str, Any]) -> Response | None:
    """Answer any refusal in the one shape; None for what is a fault of the program, which stays an error."""
    if isinstance(problem, LabError):
        return Response(_of_refusal(problem), status=status_of(problem))
    if isinstance(problem, ModelError):
        problem = exceptions.ValidationError(_by_field(problem))
    if isinstance(problem, Http404):
        problem = exceptions.NotFound("There is nothing at this address. Check the number or the tag in it.")
    if isinstance(problem, PermissionDenied):
        problem = exceptions.PermissionDenied()
    answer = exception_handler(problem, context)
    if answer is not None and isinstance(problem, exceptions.APIException):
        answer.data = _of_framework(problem)
    return answer


def status_of(refusal: LabError) -> int:
    """Choose the status: 403 where authority is missing, 404 where the thing is, 400 for wrong input, else 409."""
    kinds = ((PermissionError, 403), (LookupError, 404), (ValueError, 400))
    return next((status for kind, status in kinds if isinstance(refusal, kind)), 409)


def _of_refusal(refusal: LabError) -> dict[str, Any]:
    sentence = str(refusal)
    fields = {refusal.field: [sentence]} if refusal.field else {}
    data = {key: _plain(value) for key, value in refusal.data.items()}
    return {"code": refusal.code, "sentence": sentence, "fields": fields, "data": data}


def _of_framework(problem: exceptions.APIException) -> dict[str, Any]:
    code = str(problem.default_code).replace("_", "-")
    if not isinstance(problem, exceptions.ValidationError):
        return {"code": code, "sentence": str(problem.detail), "fields": {}, "data": {}}
    found = problem.detail if isinstance(problem.detail, dict) else {TOP: problem.detail}
    fields = {name: _sentences(said) for name, said in found.items()}
    told = [
        sentence if name == TOP else f"{name}: {sentence}"
        for name, said in fields.items()
        for sentence in said
    ]
    return {"code": code, "sentence": " ".join(told), "fields": fields, "data": {}}


def _sentences(said: Any) -> list[str]:
    """Flatten what a serializer says about a field into sentences."""
    if isinstance(said, dict):
        return [f"{name}: {sentence}" for name, inner in said.items() for sentence in _sentences(inner)]
    if isinstance(said, list | tuple):
        return [sentence for inner in said for sentence in _sentences(inner)]
    return [str(said)]


def _by_field(problem: ModelError) -> dict[str, list[str]]:
    if not hasattr(problem, "error_dict"):
        return {TOP: list(problem.messages)}
    return {TOP if name == "__all__" else name: said for name, said in problem.message_dict.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    return value if value is None or isinstance(value, str | int | float | bool | list | dict) else str(value)
