"""The elements page in Chromium, tablet and desk, light and dark: axe finds nothing, nothing overflows, no complaint.

The pages come from the test client, file by file, so no server runs and any request to another host would be seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

# A name that browsers trust as they trust https, so that they have nothing to say about plain http.
HOST = "http://localhost"
SIZES = [(820, 1180), (1366, 768), (390, 844)]
# Chromium draws text itself only where a file of ours is missing; then the page would look right and be wrong.
FAMILIES = ["400 17px 'Source Sans 3'", "600 17px 'Source Sans 3'", "600 32px 'Source Serif 4'"]
pytestmark = [pytest.mark.browser]


@pytest.fixture(scope="module")
def browser(chromium_path: str) -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        found = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        yield found
        found.close()


def answer(route: Route, strays: list[str]) -> None:
    """Answer from the site itself; remember whatever asks for anything else."""
    address = urlsplit(route.request.url)
    if f"{address.scheme}://{address.netloc}" != HOST:
        strays.append(route.request.url)
        route.abort()
    elif address.path.startswith("/static/"):
        path = finders.find(address.path.removeprefix("/static/"))
        if path is None:
            strays.append(route.request.url)
            route.abort()
        else:
            route.fulfill(path=path)
    else:
        response = Client(headers={"host": "testserver"}).get(route.request.url.removeprefix(HOST))
        route.fulfill(status=response.status_code, headers=dict(response.items()), body=response.content)


@pytest.fixture
def open_page(browser: Browser, built_assets: None) -> Iterator[Callable[..., tuple[Page, list[str]]]]:
    contexts = []

    def opened(path: str, *, size: tuple[int, int], scheme: Any) -> tuple[Page, list[str]]:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, reduced_motion="reduce"
        )
        contexts.append(context)
        complaints: list[str] = []
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.route("**/*", lambda route: answer(route, complaints))
        page.goto(f"{HOST}{path}")
        page.evaluate("document.fonts.ready")
        return page, complaints

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_elements(open_page: Any, size: tuple[int, int], scheme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page, complaints = open_page("/help/elements/", size=size, scheme=scheme)
    assert complaints == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    assert [family for family in FAMILIES if not page.evaluate("f => document.fonts.check(f)", family)] == []
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_targets_are_large_enough_for_a_finger(open_page: Any) -> None:
    """24 px at least for every target (WCAG 2.2, 2.5.8); buttons and fields 40 with a mouse."""
    page, _ = open_page("/help/elements/", size=SIZES[0], scheme="light")
    heights = page.eval_on_selector_all(
        "main button, main .button, main input:not([type=checkbox],[type=radio],[type=hidden]), main select",
        "all => all.map(one => one.getBoundingClientRect().height)",
    )
    assert len(heights) > 15
    assert min(heights) >= 40


def test_the_keyboard_goes_through_in_reading_order(open_page: Any) -> None:
    """From the skip link on, every control once, downward, each with a ring that is seen."""
    page, _ = open_page("/help/", size=SIZES[0], scheme="light")
    seen = []
    for _ in range(40):
        page.keyboard.press("Tab")
        here = page.evaluate(
            "() => { const one = document.activeElement; const style = getComputedStyle(one);"
            " return [one.tagName, one.textContent.trim(), one.getBoundingClientRect().top, style.outlineStyle]; }"
        )
        if here[0] == "BODY":
            break
        seen.append(here)
    assert seen[0][1] == "Skip to the content"
    assert [one[1] for one in seen].count("Signing in") == 1
    assert all(one[3] != "none" for one in seen)
    tops = [one[2] for one in seen[1:]]
    assert tops == sorted(tops)


def test_a_refused_form_takes_the_focus_to_its_summary(open_page: Any) -> None:
    page, _ = open_page("/help/elements/", size=SIZES[0], scheme="light")
    assert page.evaluate("document.activeElement.className") == "summary"


def test_one_box_chooses_all_and_the_bar_counts(open_page: Any) -> None:
    page, _ = open_page("/help/elements/", size=SIZES[1], scheme="light")
    rows = page.locator("input[name=selected]")
    chosen = page.locator("[data-chosen]")
    page.locator("[data-select-all]").check()
    assert chosen.inner_text() == str(rows.count())
    rows.first.uncheck()
    assert chosen.inner_text() == str(rows.count() - 1)
    assert page.evaluate("document.querySelector('[data-select-all]').indeterminate")


def test_a_change_is_announced_and_a_lost_server_is_said_in_words(open_page: Any) -> None:
    page, _ = open_page("/help/", size=SIZES[0], scheme="light")
    page.evaluate(
        "document.body.dispatchEvent(new CustomEvent('announce', {bubbles: true, detail: {value: 'Stored.'}}))"
    )
    # Waiting by a script of its own would need eval, which the page's policy forbids.
    page.locator("#announce", has_text="Stored.").wait_for(state="attached", timeout=5000)
    page.evaluate(
        "document.body.dispatchEvent(new CustomEvent('htmx:sendError', {bubbles: true, detail: {}}))"
    )
    notice = page.locator("#notices [role=alert]")
    assert "nothing was changed" in notice.inner_text()
