"""What the tablet keeps to open the bench again: the same for everybody, no name, no token, no cookie."""

from __future__ import annotations

import hashlib
import json
import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from instruments.measuring.showing.page import ahead
from instruments.measuring.views import reopening
from tests.bench import Player
from tests.laboratory import Lab

BENCH = Path("instruments/static/instruments/bench")
ON_OTHER_PAGES = {"asking.js", "cable.js", "left.js", "reopening.js", "soak.js", "taking.js", "worker.js"}


@pytest.fixture(params=["bench-worker", "bench-shell"])
def address(request: pytest.FixtureRequest) -> str:
    return reverse(request.param)


def built() -> dict[str, Any]:
    """Give what the worker says it is built of."""
    text = reopening.worker_text().removeprefix("const BUILT = ")
    found, end = json.JSONDecoder().raw_decode(text)
    assert text[end:].startswith(";\n")
    return dict(found)


@pytest.mark.django_db
def test_it_is_the_same_for_everybody_and_leaves_no_cookie(address: str, lab: Lab) -> None:
    nobody = Client().get(address)
    client = Client()
    client.force_login(lab.technician)
    somebody = client.get(address)
    assert nobody.status_code == somebody.status_code == 200
    assert nobody.content == somebody.content
    for answer in (nobody, somebody):
        assert not answer.cookies and "Cookie" not in answer.get("Vary", "")
    assert lab.technician.name not in somebody.content.decode()
    assert "csrfmiddlewaretoken" not in somebody.content.decode()


@pytest.mark.django_db
def test_no_cache_keeps_the_worker_and_the_policy_lets_it_run(address: str) -> None:
    answer = Client().get(address)
    assert answer["Cache-Control"] == "no-cache, max-age=0"
    assert "worker-src 'self'" in answer["Content-Security-Policy"]
    assert answer["Content-Type"].startswith("text/javascript" if address.endswith(".js") else "text/html")


@pytest.mark.django_db
def test_it_only_answers_who_asks(address: str) -> None:
    assert Client().post(address).status_code == 405


def test_its_place_covers_the_bench_and_nothing_else() -> None:
    place = reverse("bench-worker").rpartition("/")[0] + "/"
    assert place == reverse("bench")
    assert reverse("bench-session", args=[1]).startswith(place)
    assert not reverse("sessions").startswith(place) and not reverse("account_login").startswith(place)


def test_it_holds_every_file_that_its_page_is_made_of_with_its_hash() -> None:
    parts = built()["parts"]
    assert hashlib.sha256(reopening.shell_text().encode()).hexdigest() == parts.pop(reverse("bench-shell"))
    for name, known in parts.items():
        path = finders.find(name.removeprefix("/static/"))
        assert path and hashlib.sha256(Path(str(path)).read_bytes()).hexdigest() == known, name
    scripts = {path.name for path in BENCH.glob("*.js")} - ON_OTHER_PAGES
    assert {f"/static/instruments/bench/{name}" for name in scripts} <= set(parts)
    asked = set(re.findall(r'(?:href|src)="(/static/[^"]+\.(?:css|js|svg))"', reopening.shell_text()))
    assert asked and asked <= set(parts)


def test_another_file_is_another_version(monkeypatch: pytest.MonkeyPatch) -> None:
    before, known = built(), reopening._file

    def changed(name: str) -> bytes | None:
        return b"// changed" if name.endswith("/queue.js") else known(name)

    monkeypatch.setattr(reopening, "_file", changed)
    reopening.worker_text.cache_clear()
    after = built()
    reopening.worker_text.cache_clear()
    assert before["version"] != after["version"]
    differing = {name for name in before["parts"] if before["parts"][name] != after["parts"].get(name)}
    assert "/static/instruments/bench/queue.js" in differing


def test_what_a_page_names_is_followed_through_its_files(monkeypatch: pytest.MonkeyPatch) -> None:
    files = {
        "/static/a.js": b'import { b } from "./b.js";\nconst late = () => import("./c.js");',
        "/static/b.js": b'import "./f.js";',
        "/static/f.js": b"",
        "/static/c.js": b'export { a } from "./a.js";',
        "/static/d.css": b'@font-face { src: url("fonts/e.woff2"); }',
        "/static/fonts/e.woff2": b"\x00",
    }
    monkeypatch.setattr(reopening, "_file", files.get)
    page = '<link href="/static/d.css"><script src="/static/a.js"></script><a href="/bench/">Bench</a>'
    assert dict(reopening.held("/bench/shell/", page)) == files


@pytest.mark.django_db
def test_parts_hold_no_token_and_nobodys_name(player: Player, lab: Lab, client: Client) -> None:
    player.begin()
    point = player.points()[0]
    player.read(point, "999")  # set aside: its form asks what to do about it
    client.force_login(lab.technician)
    text = client.get(reverse("bench-ahead", args=[player.session.pk])).content.decode()
    assert 'data-ahead="reading' in text and "<form" in text
    assert "csrfmiddlewaretoken" not in text and client.cookies.get("csrftoken") is None
    assert lab.technician.name not in text
    assert f'data-gauge="{player.session.gauge}"' in text and 'data-stage="as found"' in text


@pytest.mark.django_db
def test_the_steps_before_say_what_is_open_and_show_no_photo(
    player: Player, lab: Lab, client: Client
) -> None:
    looks, room = ahead(player.session).before
    assert len(looks.unanswered) == len(looks.lines) > 1 and room.unanswered == ("room",)
    client.force_login(lab.technician)
    address = reverse("bench-ahead", args=[player.session.pk])
    text = client.get(address).content.decode()
    assert f'data-step="looks" data-open="{" ".join(looks.unanswered)}"' in text
    assert 'data-step="room" data-open="room"' in text and 'name="temperature_c"' in text
    player.begin()
    text = client.get(address).content.decode()
    assert 'data-step="looks" data-open=""' in text and 'data-step="room" data-open=""' in text
    assert "<img" not in text and lab.technician.name not in text


@pytest.mark.django_db
def test_taken_along_is_more_than_what_the_page_asks_for(player: Player) -> None:
    player.begin()
    few = ahead(player.session, 2)
    assert not few.is_all
    assert len(ahead(player.session).pages) > len(few.pages)


@pytest.mark.django_db
def test_the_bench_says_where_its_worker_is(player: Player, lab: Lab, client: Client) -> None:
    client.force_login(lab.technician)
    player.now += timedelta(minutes=1)
    for address in (reverse("bench"), reverse("bench-session", args=[player.session.pk])):
        page = client.get(address).content.decode()
        assert f'data-worker="{reverse("bench-worker")}"' in page and "bench/reopening.js" in page
    first = client.get(reverse("bench")).content.decode()
    assert re.search(r'<p [^>]*id="bench-not-again" hidden>', first)
    assert f'data-live="{player.session.pk} "' in first
