"""The bench opened again without the network: loaded anew, closed and opened, the laboratory's server ended.

What is typed there is stored once each, at its own point; the page that the tablet gives holds nobody's name, and goes
when the person signs out.
"""

from __future__ import annotations

import json
import os
import re
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.test_nothing_lost import sign_in, take, type_value, waiting
from tests.stack import Stack, children, until

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.browser

GAUGE = "C-0037"  # received in the demo laboratory and not measured yet
OPEN = """
import json, sys
from tests.faults.clerk import _open
print(json.dumps(_open("{tag}", None)))
"""
JUST_OPEN = """
from django.utils import timezone
from instruments.inventory.models import Gauge
from instruments.measuring.operations import open_session
from labsys.accounts.models import Person
from labsys.laboratory.models import Place
place, by = Place.objects.filter(is_laboratory=True)[0], Person.objects.get(username="technician")
gauge = Gauge.objects.get(tag__text="{tag}")
print(open_session(gauge=gauge, place=place, by=by, now=timezone.now()).pk)
"""
BEFORE = """
import json
from instruments.measuring.models import Arrival, Run, SetAside
run = Run.objects.get(session={session})
aside = [one.sentence for one in SetAside.objects.filter(arrival__session=run.session_id)]
assert not aside, (aside, list(Arrival.objects.filter(session=run.session_id).values_list("n", "kind", "text")))
room = [str(one.temperature_c.normalize()) for one in run.conditions.all()]
zeros = [one.kind for one in run.zero_checks.order_by("pk")]
print(json.dumps([run.checks.filter(answer="good").count(), room, zeros]))
"""
LOOKS = """
from instruments.measuring.models import Run
from instruments.measuring.open_items import looks_of
from instruments.procedures.queries import content_of
run = Run.objects.select_related("session__revision").get(session={session})
print(len(looks_of(run, content_of(run.session.revision))))
"""
ENDS = """
import json
from instruments.measuring.models import Run
from instruments.measuring.open_items import looks_of
from instruments.procedures.queries import content_of
run = Run.objects.select_related("session__revision").get(session={session})
print(json.dumps(next(one.code for one in looks_of(run, content_of(run.session.revision)) if one.ends_job)))
"""
READINGS = """
import json
from instruments.measuring.models import Reading
rows = Reading.objects.filter(point__run__session={session}, arrival__n__isnull=False).order_by("pk")
print(json.dumps([[r.point_id, r.raw, r.arrival.n] for r in rows]))
"""
REPEATED = """
from instruments.measuring.models import Point
print(Point.objects.get(run__session={session}, function="repeatability").pk)
"""
# Everything that the tablet keeps by itself, as one text.
HELD = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const response = await cache.match(request);
      found.push(name, request.url, ...[...response.headers].flat(), await response.text());
    }
  }
  const got = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  for (const { name } of await indexedDB.databases()) {
    const opened = await got(indexedDB.open(name));
    for (const store of opened.objectStoreNames) {
      found.push(name, store, JSON.stringify(await got(opened.transaction([store]).objectStore(store).getAll())));
    }
    opened.close();
  }
  return found.join("\\n");
}"""
CACHES = "() => caches.keys().then((names) => names.filter((one) => one.startsWith('bench ')))"
IN_SHELL = "#bench-tablet[data-shell]"


@pytest.fixture
def own(prepared_stack: Stack, request: pytest.FixtureRequest) -> Iterator[Stack]:
    """Give a running copy that this test alone ends and changes."""
    copy = prepared_stack.copy(prepared_stack.folder.parent / request.node.name[:40])
    copy.start()
    yield copy
    copy.remove()


@pytest.fixture
def context(chromium_path: str) -> Iterator[BrowserContext]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        yield browser.new_context(viewport={"width": 820, "height": 1180})
        browser.close()


def told(stack: Stack, program: str) -> Any:
    done = stack.manage("shell", "--no-imports", "-c", program)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def opened(stack: Stack, page: Page, tag: str) -> int:
    """Open a session at its first point, and the bench on a page that the worker watches."""
    session = int(told(stack, OPEN.format(tag=tag))["session"])
    page.goto(f"{stack.address}/account/login/")
    sign_in(page)
    page.goto(f"{stack.address}/bench/session/{session}/")
    page.wait_for_selector("#raw")
    ready(page)
    return session


READY = """async () => {
  const kept = await caches.keys(), worker = await navigator.serviceWorker.getRegistration();
  if (worker?.active?.state !== "activated" || !kept.some((one) => one.startsWith("bench "))) return false;
  const { stored } = await import("/static/instruments/bench/ahead.js");
  return (await stored()).length > 0;
}"""


def ready(page: Page) -> None:
    """Wait until the tablet could open the bench by itself: the worker at work, the parts kept."""
    assert until(lambda: bool(page.evaluate(READY)), within_s=30)


def readings(stack: Stack, session: int) -> list[Any]:
    return list(told(stack, READINGS.format(session=session)))


def real(page: Page) -> None:
    """Wait until the laboratory's own page is back and nothing waits."""
    page.wait_for_selector("#bench-tablet:not([data-shell])", state="attached", timeout=40_000)
    page.wait_for_selector("#bench-waiting", state="hidden", timeout=30_000)


def hold(stack: Stack, session: int, typed: list[tuple[str, str]]) -> None:
    """Every value is stored once, in the order of typing, each at a point of its own."""
    rows = readings(stack, session)
    assert [raw for _point, raw, _n in rows] == [text for _heading, text in typed]
    assert [n for *_, n in rows] == list(range(1, len(rows) + 1))
    assert len({point for point, *_ in rows}) == len(rows)


def test_it_goes_on_after_reloads_and_after_being_closed(own: Stack, context: BrowserContext) -> None:
    page = context.new_page()
    session = opened(own, page, GAUGE)
    address = page.url.partition("?")[0]

    context.set_offline(True)
    typed = [take(page)]
    page.reload()
    page.wait_for_selector(IN_SHELL, state="attached")
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    typed.append(take(page))
    page.reload()
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    typed.append(take(page))
    assert waiting(page) == 3
    page.close()

    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    assert page.query_selector(IN_SHELL) is not None
    typed += [take(page), take(page)]
    assert waiting(page) == 5
    assert readings(own, session) == []

    context.set_offline(False)
    real(page)
    hold(own, session, typed)


def test_a_point_that_wants_several_readings_gets_them_all(own: Stack, context: BrowserContext) -> None:
    """Five readings of one length, without the network and over a reload; the page leaves the point after the last."""
    page = context.new_page()
    session = opened(own, page, "M-0002")
    point = int(told(own, REPEATED.format(session=session)))
    context.set_offline(True)
    page.goto(f"{own.address}/bench/session/{session}/?point={point}")
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    heading = page.inner_text("#bench-instruction h2")
    values = ["12.900", "12.901", "12.900", "12.899", "12.900"]
    for count, value in enumerate(values, start=1):
        assert page.inner_text("#bench-instruction h2") == heading, f"reading {count} is still wanted here"
        type_value(page, value)
        if count == 2:
            page.reload()
            page.wait_for_selector("#keys [data-key]:not([hidden])")
    assert page.inner_text("#bench-instruction h2") != heading
    context.set_offline(False)
    real(page)
    assert readings(own, session) == [[point, value, n] for n, value in enumerate(values, start=1)]


def test_it_goes_on_when_the_server_has_ended(own: Stack, context: BrowserContext) -> None:
    page = context.new_page()
    session = opened(own, page, GAUGE)
    port = own.port
    own.stop()
    assert not own.answers()
    typed = [take(page)]
    page.reload()
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    typed += [take(page), take(page)]
    assert page.query_selector(IN_SHELL) is not None
    with gateway(port):  # it answers, but not for the laboratory
        page.reload()
        page.wait_for_selector("#keys [data-key]:not([hidden])")
        assert page.query_selector(IN_SHELL) is not None
        typed.append(take(page))
    own.port = port
    own.start()
    real(page)
    hold(own, session, typed)


class NobodyBehind(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(502)
        self.end_headers()
        self.wfile.write(b"<h1>Bad Gateway</h1>")

    do_POST = do_GET

    def log_message(self, *words: object) -> None:
        return


@contextmanager
def gateway(port: int) -> Iterator[None]:
    """Answer at a port as what stands before a program does while nobody is behind it."""
    server = ThreadingHTTPServer(("127.0.0.1", port), NobodyBehind)
    running = threading.Thread(target=server.serve_forever)
    running.start()
    try:
        yield
    finally:
        server.shutdown()
        server.server_close()
        running.join()


def test_a_laboratory_that_does_not_answer_is_none(own: Stack, context: BrowserContext) -> None:
    """The network takes everything and nothing comes back: the tablet's own page is there after some seconds."""
    page = context.new_page()
    session = opened(own, page, GAUGE)
    server = own.child("gunicorn")
    stopped = [server, *children(server)]
    for pid in stopped:
        os.kill(pid, signal.SIGSTOP)
    try:
        start = time.monotonic()
        page.reload()
        page.wait_for_selector("#keys [data-key]:not([hidden])")
        took_s = time.monotonic() - start
        assert page.query_selector(IN_SHELL) is not None
        assert 5 < took_s < 15, "it waits for the laboratory first, and its own parts for nobody"
        typed = [take(page)]
    finally:
        for pid in stopped:
            os.kill(pid, signal.SIGCONT)
    real(page)
    hold(own, session, typed)


def test_it_says_what_it_has_not_and_cannot(own: Stack, context: BrowserContext) -> None:
    """Nothing fetched: the sentence; a page that is the laboratory's: what needs it. No fault on either."""
    from axe_playwright_python.sync_playwright import Axe

    page = context.new_page()
    session = opened(own, page, GAUGE)
    wrong: list[str] = []

    def hear(message: Any) -> None:
        # That the network is away the browser says itself, for every try.
        if message.type == "error" and "net::ERR_INTERNET_DISCONNECTED" not in message.text:
            wrong.append(message.text)

    page.on("console", hear)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    context.set_offline(True)

    def look(path: str, words: str) -> None:
        page.goto(f"{own.address}{path}")
        page.wait_for_selector(f":is(h2, p, span):has-text('{words}')")
        found = Axe().run(page)
        wrong.extend([found.generate_report()] if found.violations_count else [])
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            wrong.append(f"{path} overflows")

    look("/bench/session/987654/", "Nothing of session 987654 was fetched onto this tablet")
    look("/bench/", "still to be read on this tablet")
    look(f"/bench/session/{session}/hand-in/", "Handing in needs the laboratory")
    page.click("text=Go on measuring")
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    look(f"/bench/session/{session}/", "near the beam")
    take(page)
    look("/bench/", "waits on this tablet")
    assert GAUGE in page.inner_text("#shell-waiting")
    assert wrong == []
    context.set_offline(False)
    real(page)


def test_signing_out_takes_along_what_was_stored_ahead(own: Stack, context: BrowserContext) -> None:
    page = context.new_page()
    session = opened(own, page, GAUGE)
    cookies = {one["name"]: one["value"] for one in context.cookies()}
    shown = "near the beam"
    assert shown in page.inner_text("#bench-instruction h2")
    assert shown in page.evaluate(HELD), "what is looked for would be found"
    token = str(json.loads(page.get_attribute("body", "hx-headers") or "{}")["X-CSRFToken"])
    name = page.text_content(".bench-more form button") or ""
    assert name.startswith("Sign out ")
    secrets = [token, *cookies.values(), "csrfmiddlewaretoken", name.removeprefix("Sign out ")]
    assert [one for one in secrets if one in page.evaluate(HELD)] == []

    context.set_offline(True)
    _heading, raw = take(page)
    page.click("summary:text-is('More')")
    page.click("text=Sign out")
    page.wait_for_selector("text=you are still signed in")
    context.set_offline(False)
    page.goto(f"{own.address}/bench/session/{session}/")
    page.route(re.compile("/(send|deposit)/$"), lambda route: route.abort())
    _heading, raw = take(page)
    page.click("summary:text-is('More')")
    page.click("text=Sign out")
    page.wait_for_url("**/account/login/**")
    held = page.evaluate(HELD)
    assert [one for one in secrets if one in held] == []
    # The empty page and the scripts that every tablet holds name the parts; the databases don't any more.
    databases = held[held.index("\nbench\nentries\n") :]
    assert "signed-in bench\nsessions\n[]" in databases
    assert [one for one in (shown, "bench-instruction") if one in databases] == []
    assert f'\\"raw\\":\\"{raw}\\"' in databases, "what was typed stays"


def test_a_new_version_waits_until_nothing_waits(own: Stack, context: BrowserContext) -> None:
    page = context.new_page()
    session = opened(own, page, GAUGE)
    before = page.evaluate(CACHES)
    assert len(before) == 1

    # Another build of the program: one of the files that the bench is made of has changed.
    types = own.folder / "assets" / "labsys" / "fonts"
    changed = next(types.glob("source-sans-3-400.woff2"))
    changed.write_bytes(changed.read_bytes() + b"\0")
    server = own.child("gunicorn")
    os.kill(server, signal.SIGKILL)
    assert until(lambda: own.child("gunicorn") not in {0, server}, within_s=30)
    assert until(own.answers, within_s=30)
    served = page.evaluate("fetch('/bench/worker.js').then((one) => one.text())")
    assert before[0].removeprefix("bench ") not in served

    page.route(re.compile("/(send|deposit)/$"), lambda route: route.abort())
    take(page)
    for _ in range(3):
        page.goto(f"{own.address}/bench/session/{session}/")
        page.wait_for_selector("#raw")
        page.evaluate("() => navigator.serviceWorker.ready.then((one) => one.update()).catch(() => null)")
        page.wait_for_timeout(500)
        assert page.evaluate(CACHES) == before
    page.unroute(re.compile("/(send|deposit)/$"))
    real(page)
    page.wait_for_timeout(500)
    page.goto(f"{own.address}/bench/session/{session}/")
    assert until(lambda: before[0] not in page.evaluate(CACHES), within_s=30)
    assert len(page.evaluate(CACHES)) == 1

    # And the new one opens the bench as the old one did.
    context.set_offline(True)
    page.reload()
    page.wait_for_selector(IN_SHELL, state="attached")
    page.wait_for_selector("#keys [data-key]:not([hidden])")


def test_a_session_taken_along_is_done_from_its_first_look_without_the_network(
    own: Stack, context: BrowserContext
) -> None:
    page = context.new_page()
    session = int(told(own, JUST_OPEN.format(tag=GAUGE)))
    page.goto(f"{own.address}/account/login/")
    sign_in(page)
    page.goto(f"{own.address}/bench/")
    page.click("text=Take along to where there is no network")
    page.check(f"input[name=session][value='{session}']")
    page.click("button:text-is('Take along')")
    page.wait_for_selector(f"[data-taken='{session}'] >> text=with the looks and the room on this tablet")
    ready(page)
    context.set_offline(True)
    page.goto(f"{own.address}/bench/")
    page.click(f"#shell-sessions >> text={GAUGE}")

    looks = page.locator("#shell-step .answers button[value=good]")
    looks.first.wait_for()
    ends = told(own, ENDS.format(session=session))
    answers = f"#shell-step form:has(input[value={ends}]) button"
    page.click(f"{answers}[value=not-good]")
    page.wait_for_selector(f"{answers}[value=not-good][aria-pressed=true]")
    page.goto(f"{own.address}/bench/")
    page.wait_for_selector("#shell-sessions >> text=rejected by a look")
    page.goto(f"{own.address}/bench/session/{session}/?step=points")
    page.wait_for_selector("text=A look that is not good ends the job")
    page.goto(f"{own.address}/bench/session/{session}/")
    looks.first.wait_for()
    for number in range(looks.count()):
        looks.nth(number).click()
        page.wait_for_selector(
            f"#shell-step li:nth-child({number + 1}) button[value=good][aria-pressed=true]"
        )
    page.reload()
    page.wait_for_selector("#shell-step #temperature_c")  # the looks are done
    page.fill("#temperature_c", "20.1")
    page.fill("#humidity_percent", "48")
    page.click("text=Note it")
    page.wait_for_selector("#shell-noted >> text=20.1 °C, 48 %, kept on this tablet")
    page.click("#shell-step >> text=Go on")
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    type_value(page, "0.00")  # a vernier's zero isn't set
    typed = [take(page), take(page)]
    context.set_offline(False)
    real(page)
    rows = readings(own, session)
    assert [raw for _point, raw, _n in rows] == [text for _heading, text in typed]
    assert told(own, BEFORE.format(session=session)) == [looks_of(own, session), ["20.1"], ["as-found"]]


def looks_of(stack: Stack, session: int) -> int:
    return int(told(stack, LOOKS.format(session=session)))
