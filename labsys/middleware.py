"""Middleware of the site itself. Topics bring none."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from labsys.logs import request_id

_USABLE = re.compile(r"[A-Za-z0-9-]{8,64}")


class RequestId:
    """Gives every request an id, a proxy's where it sent a sane one, and says it in the answer's header."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer the request with its id on every log line."""
        sent = request.headers.get("X-Request-Id", "")
        name = sent if _USABLE.fullmatch(sent) else uuid.uuid4().hex
        # Left standing until the next request of this thread: Django writes its own line after the last middleware.
        request_id.set(name)
        response = self.get_response(request)
        response["X-Request-Id"] = name
        return response
