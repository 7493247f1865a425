"""What happens to an answer between a view and the browser: an expired login under htmx, a refusal nobody caught."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode, urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url

from labsys.errors import LabError
from labsys.pages import refusals


class LoginInPlace:
    """Answers 401 with the sign-in address where htmx would otherwise put a sign-in page inside a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the answer on, unless it sends an htmx request to the sign-in page."""
        response = self.get_response(request)
        htmx = getattr(request, "htmx", None)
        if not htmx or response.status_code not in (301, 302, 303):
            return response
        sign_in = resolve_url(settings.LOGIN_URL)
        if urlsplit(response["Location"]).path != sign_in:
            return response
        # The person comes back to the page they see, not to the part of it that was asked for.
        seen = htmx.current_url_abs_path or "/"
        answer = HttpResponse("Your sign-in has ended. Sign in again.", status=401, content_type="text/plain")
        answer["HX-Redirect"] = f"{sign_in}?{urlencode({'next': seen})}"
        return answer


class Refusals:
    """Shows a LabError that no view caught as a page with its sentence, status 409."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; the work is in process_exception."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Turn a refusal into a page; anything else stays an error."""
        if isinstance(exception, LabError):
            return refusals.page(request, exception)
        return None
