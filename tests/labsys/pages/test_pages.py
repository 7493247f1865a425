"""Help, the error pages, refusals and an expired login, through the client."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.test import Client, RequestFactory
from django.test.utils import override_settings
from django.urls import include, path, reverse
from django_htmx.middleware import HtmxMiddleware

from labsys.errors import LabError
from labsys.pages import help
from labsys.pages.middleware import LoginInPlace

HTMX = {"HX-Request": "true", "HX-Current-URL": "http://testserver/gauges/7/?order=due"}


class BenchClosed(LabError):
    code = "bench-closed"
    sentence = "The bench is closed on {day}; choose a working day."


def closed(request: HttpRequest) -> HttpResponse:
    raise BenchClosed(day="<2026-12-24>")


def broken(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("not for people's eyes")


urlpatterns = [
    path("closed/", closed),
    path("broken/", broken),
    path("help/", include("labsys.pages.urls")),
    path("account/", include("allauth.account.urls")),
]
pytestmark = pytest.mark.urls(__name__)


def test_every_help_page_opens(client: Client) -> None:
    index = client.get(reverse("help")).content.decode()
    for page in help.pages():
        if page.template.startswith("labsys/"):
            assert page.url in index
            text = client.get(page.url).content.decode()
            assert f"<h1>{page.title}</h1>" in text
            assert "<title>Help: " in text


def test_elements_page_has_neither_inline_style_nor_script(client: Client) -> None:
    text = client.get(reverse("help-elements")).content.decode()
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=", text)
    assert all(" src=" in script for script in re.findall(r"<script[^>]*>", text))


def test_unknown_address(client: Client) -> None:
    response = client.get("/nowhere/")
    assert response.status_code == 404
    assert "There is nothing at this address" in response.content.decode()
    assert client.get("/help/nowhere/").status_code == 404


def test_a_failure_tells_nothing_but_what_to_do() -> None:
    client = Client(raise_request_exception=False)
    response = client.get("/broken/")
    assert response.status_code == 500
    text = response.content.decode()
    assert "The server failed on this page" in text
    assert "not for people" not in text


def test_a_refusal_is_a_page_with_its_sentence(client: Client) -> None:
    response = client.get("/closed/")
    assert response.status_code == 409
    text = response.content.decode()
    assert "The bench is closed on &lt;2026-12-24&gt;; choose a working day." in text
    assert 'role="alert"' in text


def test_a_refusal_under_htmx_is_the_notice_alone(client: Client) -> None:
    response = client.get("/closed/", headers=HTMX)
    assert response.status_code == 409
    assert response["HX-Retarget"] == "#notices"
    assert "<html" not in response.content.decode()
    assert "The bench is closed" in response.content.decode()


def login_in_place(answer: Callable[[HttpRequest], HttpResponse], headers: dict[str, str]) -> HttpResponse:
    stack = HtmxMiddleware(LoginInPlace(answer))
    found = stack(RequestFactory().get("/gauges/7/part/", headers=headers))
    assert isinstance(found, HttpResponse)
    return found


def to_sign_in(request: HttpRequest) -> HttpResponse:
    return HttpResponseRedirect(f"{reverse('account_login')}?next={request.path}")


def test_an_expired_login_under_htmx_leads_the_browser_to_the_sign_in_page() -> None:
    response = login_in_place(to_sign_in, HTMX)
    assert response.status_code == 401
    assert response["HX-Redirect"] == f"{reverse('account_login')}?next=%2Fgauges%2F7%2F%3Forder%3Ddue"
    assert not response.has_header("Location")


def test_the_way_back_never_leads_to_another_host() -> None:
    response = login_in_place(to_sign_in, {**HTMX, "HX-Current-URL": "http://elsewhere.example/gauges/"})
    assert response["HX-Redirect"].endswith("?next=%2F")


def test_without_htmx_and_for_other_redirects_nothing_changes() -> None:
    assert login_in_place(to_sign_in, {}).status_code == 302
    other = login_in_place(lambda request: HttpResponseRedirect("/gauges/"), HTMX)
    assert other.status_code == 302


@override_settings(DEBUG=False)
def test_forbidden_says_what_to_do(client: Client) -> None:
    from django.views.defaults import permission_denied

    request = RequestFactory().get("/lab/")
    from django.contrib.auth.models import AnonymousUser

    request.user = AnonymousUser()
    text = permission_denied(request, PermissionError()).content.decode()
    assert "You are not signed in" in text
    assert f"{reverse('account_login')}?next=/lab/" in text
