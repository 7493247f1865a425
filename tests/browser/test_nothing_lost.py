"""Nothing typed is lost: the network cut, the laboratory's process killed, the sign-in over, the page closed.

One tablet, one session, every fault in turn; at the end each value that was typed is stored exactly once, at its own
point, in the order it was typed.
"""

from __future__ import annotations

import json
import os
import re
import signal
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

from tests.stack import Stack, until

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page, Route

pytestmark = pytest.mark.browser

UNDER_WAY = "C-0036"  # open in the demo laboratory, two of its eight points read
BOUNCE_MS = 1100  # the same value again within a second is held back
READINGS = """
import json
from instruments.measuring.models import Reading
rows = Reading.objects.filter(point__run__session__gauge__tag__text="C-0036", arrival__n__isnull=False)
print(json.dumps([[r.point_id, r.raw, r.arrival.n, r.offline] for r in rows.order_by("pk")]))
"""
NOBODY_SIGNED_IN = "from django.contrib.sessions.models import Session; Session.objects.all().delete()"


@pytest.fixture
def context(stack: Stack, chromium_path: str) -> Iterator[BrowserContext]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        yield browser.new_context(viewport={"width": 820, "height": 1180})
        browser.close()


def sign_in(page: Page) -> None:
    page.fill("input[name=login]", "technician")
    page.fill("input[name=password]", "technician-of-the-demo")
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "/account/login" not in url)


def begin(page: Page, stack: Stack) -> None:
    """Go to the session's next point."""
    page.goto(f"{stack.address}/account/login/")
    sign_in(page)
    page.goto(f"{stack.address}/bench/")
    page.click(f"text={UNDER_WAY}")
    page.wait_for_selector("#raw")


def type_value(page: Page, text: str) -> None:
    page.focus("#raw")
    page.keyboard.type(text)
    page.keyboard.press("Enter")
    page.wait_for_timeout(BOUNCE_MS)


def take(page: Page) -> tuple[str, str]:
    """Take the reading the page asks for; gives the point it names and what was typed."""
    heading = page.inner_text("#bench-instruction h2")
    length = re.search(r"([\d.]+)\s*mm", heading)
    assert length is not None, heading
    type_value(page, length[1])
    return heading, length[1]


def waiting(page: Page) -> int:
    """Count what the page says waits."""
    found = re.match(r"\d+", page.inner_text("#bench-waiting") if page.is_visible("#bench-waiting") else "")
    return int(found[0]) if found else 0


def arrives(page: Page) -> None:
    page.wait_for_selector("#bench-waiting", state="hidden", timeout=30_000)
    page.wait_for_load_state("networkidle")


def stored(stack: Stack) -> list[Any]:
    done = stack.manage("shell", "-c", READINGS)
    assert done.returncode == 0, done.stderr
    return list(json.loads(done.stdout.splitlines()[-1]))


def test_every_fault_in_turn_and_every_value_stored_once(stack: Stack, context: BrowserContext) -> None:
    page = context.new_page()
    begin(page, stack)
    typed = [take(page)]

    # The network is cut: the page goes on by itself, and says how much waits.
    context.set_offline(True)
    typed += [take(page), take(page)]
    assert waiting(page) == 2
    assert "kept on this tablet" not in page.inner_text("#bench-instruction h2")
    context.set_offline(False)
    arrives(page)
    assert [raw for _, raw, *_ in stored(stack)] == [text for _, text in typed]

    # The laboratory's process is killed while a value is on its way; another takes its place.
    os.kill(stack.child("gunicorn"), signal.SIGKILL)
    typed.append(take(page))
    assert until(stack.answers, within_s=30)
    arrives(page)

    # The sign-in is over: the value goes out by the tablet's own key, without anybody signing in.
    assert stack.manage("shell", "-c", NOBODY_SIGNED_IN).returncode == 0
    typed.append(take(page))
    page.wait_for_url("**/account/login/**")
    sign_in(page)
    page.wait_for_selector("#raw")
    arrives(page)

    # The page is closed with something waiting; whatever page of the bench is opened next sends it.
    context.set_offline(True)
    typed.append(take(page))
    page.close()
    context.set_offline(False)
    page = context.new_page()
    page.goto(f"{stack.address}/bench/")
    arrives(page)

    found = stored(stack)
    assert [raw for _, raw, *_ in found] == [text for _, text in typed]
    assert len({point for point, *_ in found}) == len(typed), "each at its own point"
    counts = [n for _, _, n, _ in found]
    assert counts == sorted(counts) and len(set(counts)) == len(counts), "in the order of typing"


def test_what_is_typed_while_the_page_is_loading_stays_whole(stack: Stack, context: BrowserContext) -> None:
    # A service worker asks for the scripts itself, and what it asks for can't be held up from here.
    assert context.browser is not None
    page = context.browser.new_context(service_workers="block").new_page()
    begin(page, stack)
    typed: list[str] = []

    def late(route: Route) -> None:
        page.focus("#raw")
        page.keyboard.type("15")
        typed.append(page.input_value("#raw"))
        route.continue_()

    page.route(re.compile(r"/bench/bench[^/]*\.js"), late)
    page.goto(page.url, wait_until="commit")
    page.wait_for_selector("#keys [data-key]:not([hidden])")
    page.keyboard.type("0.02")
    assert typed == ["15"]
    assert page.input_value("#raw") == "150.02"


def test_enter_before_the_scripts_are_up_still_goes_through_the_tablet(
    stack: Stack, context: BrowserContext
) -> None:
    assert context.browser is not None
    before = len(stored(stack))
    page = context.browser.new_context(service_workers="block").new_page()
    at_a_point(page, stack)
    heading = page.inner_text("#bench-instruction h2")
    found = re.search(r"([\d.]+)\s*mm", heading)
    assert found is not None, heading
    asked: list[str] = []

    def late(route: Route) -> None:
        page.focus("#raw")
        page.keyboard.press("Control+a")
        page.keyboard.type(found[1])
        page.keyboard.press("Enter")
        route.continue_()

    page.route(re.compile(r"/bench/sending[^/]*\.js"), late)
    page.on("request", lambda request: asked.append(request.url) if request.is_navigation_request() else None)
    page.goto(page.url, wait_until="commit")
    with page.expect_response("**/bench/session/*/send/"):
        pass
    arrives(page)
    assert len(asked) == 1, "no form went out as a page of its own"
    assert [raw for _point, raw, *_ in stored(stack)[before:]] == [found[1]]


def at_a_point(page: Page, stack: Stack) -> str:
    """Go to the session, where everything was read to a point that takes a reading more; gives the page's address."""
    begin(page, stack)
    address = page.url.partition("?")[0]
    if rows := stored(stack):
        page.goto(f"{address}?point={rows[0][0]}")
        page.wait_for_selector("#reading-for input[name=point]", state="attached")
    return address


def test_an_answer_of_some_other_network_is_none(stack: Stack, context: BrowserContext) -> None:
    """A guest network that answers everything with its own page, and says 200."""
    before = len(stored(stack))
    page = context.new_page()
    at_a_point(page, stack)
    foreign = "<html><body><form>Welcome to the guest network</form></body></html>"
    for address in ("**/bench/session/*/send/", "**/bench/deposit/"):
        page.route(address, lambda route: route.fulfill(status=200, content_type="text/html", body=foreign))
    heading, typed = take(page)
    assert waiting(page) == 1
    assert page.input_value("#raw") == "", "it is kept, so it does not stand there to be sent again"
    for address in ("**/bench/session/*/send/", "**/bench/deposit/"):
        page.unroute(address)
    arrives(page)
    rows = stored(stack)[before:]
    assert [raw for _point, raw, *_ in rows] == [typed], heading


def test_what_was_kept_is_not_offered_again_by_a_page_loaded_anew(
    stack: Stack, context: BrowserContext
) -> None:
    before = len(stored(stack))
    page = context.new_page()
    session = at_a_point(page, stack)
    for address in ("**/bench/session/*/send/", "**/bench/deposit/"):
        page.route(address, lambda route: route.abort())
    point = page.get_attribute("#reading-for input[name=point]", "value")
    _heading, typed = take(page)
    assert waiting(page) == 1
    page.goto(f"{session}?point={point}")
    page.wait_for_selector("#bench-waiting")  # the new page knows of it
    assert page.input_value("#raw") == ""
    for one in ("**/bench/session/*/send/", "**/bench/deposit/"):
        page.unroute(one)
    arrives(page)
    assert [raw for _point, raw, *_ in stored(stack)[before:]] == [typed]
