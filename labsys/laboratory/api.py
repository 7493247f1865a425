"""Asking the arithmetic from a program: the same files of questions as on the page and the command line."""

from __future__ import annotations

from typing import ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from labsys.api.views import Reading
from labsys.journal.access import READ_RECORDS
from labsys.metrology.questions.asking import answer_file

FILE = {
    "type": "object",
    "required": ["questions"],
    "properties": {
        "format": {"type": "integer", "enum": [1]},
        "about": {"type": "string"},
        "questions": {"type": "array", "items": {"type": "object", "required": ["kind"]}},
    },
}
ANSWERS = {
    "type": "object",
    "properties": {
        "format": {"type": "integer"},
        "about": {"type": "string"},
        "answers": {"type": "array", "items": {"type": "object"}},
    },
}


class Evaluate(Reading):
    """Answers a file of questions; nothing is kept."""

    permission = READ_RECORDS
    parameters: ClassVar[tuple[str, ...]] = ()

    @extend_schema(
        operation_id="evaluate",
        summary="Answer questions to the arithmetic",
        request={"application/json": FILE},
        responses={200: ANSWERS},
    )
    def post(self, request: Request) -> Response:
        """Give values, steps and sources for every question, and compare with what the file expects."""
        return Response(answer_file(request.data))
