"""The header offers what the person may see, in a fixed order; the page's own place is marked."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest
from django.test import RequestFactory

from labsys.pages import help, menu, places


@pytest.fixture(autouse=True)
def _own_registers(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(places, "_places", {})
    monkeypatch.setattr(menu, "_entries", {})
    monkeypatch.setattr(help, "_pages", dict(help._pages))
    monkeypatch.setattr(
        places, "reverse", lambda name: {"bench": "/bench/", "home": "/", "lab": "/lab/"}[name]
    )
    yield


def request(path: str, *rights: str) -> HttpRequest:
    found = RequestFactory().get(path)
    found.user = SimpleNamespace(is_authenticated=True, has_perm=lambda right: right in rights)  # type: ignore[assignment]
    return found


def names(found: HttpRequest) -> list[str]:
    return [offer.name for offer in places.offers(found)]


def test_order_and_permission() -> None:
    places.register(name="Lab", url_name="lab", permission="lab.manage")
    places.register(name="Bench", url_name="bench")
    assert names(request("/")) == ["Bench"]
    assert names(request("/", "lab.manage")) == ["Bench", "Lab"]


def test_a_question_may_decide() -> None:
    places.register(name="Bench", url_name="bench", permission=lambda asked: asked.path != "/closed/")
    assert names(request("/")) == ["Bench"]
    assert names(request("/closed/")) == []


def test_nobody_unknown_is_offered_anything() -> None:
    places.register(name="Bench", url_name="bench")
    asked = RequestFactory().get("/bench/")
    asked.user = AnonymousUser()
    assert places.offers(asked) == []


def test_the_own_place_is_marked_on_its_pages() -> None:
    places.register(name="Bench", url_name="bench")
    places.register(name="Lab", url_name="home")
    deeper = {offer.name: (offer.current, offer.exact) for offer in places.offers(request("/bench/12/"))}
    assert deeper == {"Bench": (True, False), "Lab": (False, False)}
    assert [offer.exact for offer in places.offers(request("/bench/"))] == [True, False]


def test_only_the_header_s_places_and_each_once() -> None:
    with pytest.raises(places.UnknownPlace, match="Kitchen"):
        places.register(name="Kitchen", url_name="home")
    places.register(name="Lab", url_name="lab")
    places.register(name="Lab", url_name="lab")
    with pytest.raises(places.PlaceTaken, match="home"):
        places.register(name="Lab", url_name="home")


def test_help_is_found_by_the_longest_beginning() -> None:
    help.register(slug="kitchen", title="Kitchen", template="x.html", prefix="/kitchen/")
    help.register(slug="oven", title="Oven", template="y.html", prefix="/kitchen/oven/")
    assert help.link_for(request("/kitchen/oven/3/")).title == "Oven"
    assert help.link_for(request("/kitchen/3/")).title == "Kitchen"
    assert help.link_for(request("/elsewhere/")).title == "all pages"


@pytest.mark.parametrize("slug", ["elements", "Lab", "two words", "", "lab"])
def test_help_names_are_plain_and_single(slug: str) -> None:
    with pytest.raises(help.HelpTaken):
        help.register(slug=slug, title="Another", template="z.html")
