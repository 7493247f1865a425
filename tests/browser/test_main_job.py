"""The main job in Chromium at tablet size, against the program as a person starts it, by keyboard where hands are busy.

A gauge in the laboratory is measured by one person, signed by another, shown to the floor, walked by the auditor. Every
page on the way is held against axe, the console, foreign requests and its own width.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

from tests.stack import Stack

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.smoke]

WAITING = "C-0037"  # received in the demo laboratory and not measured yet
BOUNCE_MS = 1100  # the same value again within a second is held back
BEFORE_ENTER_MS = 120


class Eyes:
    """Pages of several people, and everything that is wrong with what was looked at."""

    def __init__(self, browser: Browser, address: str) -> None:
        self.browser, self.address, self.wrong = browser, address, []  # type: ignore[var-annotated]

    def page(self) -> Page:
        """Open a page of a fresh browser session at tablet size."""
        page = self.browser.new_context(viewport={"width": 820, "height": 1180}).new_page()
        page.on("console", self._hear)
        page.on("request", self._ask)
        return page

    def person(self, username: str) -> Page:
        """Sign in as somebody."""
        page = self.page()
        page.goto(f"{self.address}/account/login/")
        page.fill("input[name=login]", username)
        page.fill("input[name=password]", f"{username}-of-the-demo")
        page.keyboard.press("Enter")
        page.wait_for_url(lambda url: "/account/login" not in url)
        return page

    def look(self, page: Page) -> None:
        """Hold the page against axe and its own width."""
        from axe_playwright_python.sync_playwright import Axe

        page.wait_for_load_state("networkidle")
        found = Axe().run(page).response["violations"]
        self.wrong += [(page.url, one["id"], [node["target"] for node in one["nodes"]][:3]) for one in found]
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            self.wrong.append((page.url, "overflows"))

    def _hear(self, message: Any) -> None:
        if message.type == "error":
            self.wrong.append(("console", message.text))

    def _ask(self, request: Any) -> None:
        if not request.url.startswith((self.address, "data:")):
            self.wrong.append(("foreign", request.url))


@pytest.fixture
def eyes(stack: Stack, chromium_path: str) -> Iterator[Eyes]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        yield Eyes(browser, stack.address)
        browser.close()


def type_reading(page: Page, text: str) -> None:
    """Type into the one field of the bench, press Enter, and let the page go on."""
    page.wait_for_selector("#raw")
    page.focus("#raw")
    page.keyboard.type(text)
    page.wait_for_timeout(BEFORE_ENTER_MS)
    page.keyboard.press("Enter")
    page.wait_for_timeout(BOUNCE_MS)


def measure(page: Page, eyes: Eyes) -> None:
    """Lead one session from the looks to handing in."""
    page.fill("#find_label", WAITING)
    page.keyboard.press("Enter")
    page.click("text=Open a session")
    page.wait_for_selector(".look")
    # Found anew for every click: the answer brings the list again.
    good = page.locator(".look.is-next button[value=good]")
    while good.count():
        good.first.click()
        page.wait_for_timeout(400)
        page.wait_for_load_state("networkidle")
    eyes.look(page)
    page.click("text=/^Next: /")
    page.fill("#temperature_c", "20.1")
    page.fill("#humidity_percent", "45")
    page.keyboard.press("Enter")
    page.wait_for_selector("#raw")
    type_reading(page, "0")
    type_reading(page, "0")
    eyes.look(page)
    while page.query_selector("#reading-for input[name=point]"):
        length = re.search(r"([\d.]+)\s*mm", page.inner_text("#bench-instruction h2"))
        assert length is not None
        type_reading(page, length[1])
    assert "Closing zero" in page.inner_text("#bench-instruction")
    type_reading(page, "0")
    page.wait_for_selector("text=Hand in for review")
    eyes.look(page)
    page.click("text=Hand in for review")
    page.wait_for_url("**/sessions/*/")
    eyes.look(page)


def test_a_gauge_goes_from_the_bench_to_a_signed_certificate(eyes: Eyes) -> None:
    manager = eyes.person("manager")
    assert manager.url.endswith("/planning/")
    eyes.look(manager)
    measure(eyes.person("technician"), eyes)
    reviewer = eyes.person("reviewer")
    eyes.look(reviewer)
    reviewer.click(f"text={WAITING}")
    reviewer.fill("input[name=password]", "reviewer-of-the-demo")
    eyes.look(reviewer)
    reviewer.click("text=Sign and issue")
    reviewer.wait_for_url("**/certificates/*/")
    eyes.look(reviewer)
    number = re.search(r"CAL-\d+", reviewer.inner_text("h1"))
    assert number is not None
    auditor = eyes.person("auditor")
    auditor.fill("#q", number[0])
    auditor.keyboard.press("Enter")
    auditor.click(f"text={number[0]}")
    eyes.look(auditor)
    assert "the chain holds" in auditor.inner_text("main")
    assert eyes.wrong == [], eyes.wrong


def test_the_floor_sees_its_gauges_and_a_label_needs_no_sign_in(eyes: Eyes) -> None:
    custodian = eyes.person("custodian")
    eyes.look(custodian)
    address = custodian.get_attribute("main table a", "href")
    stranger = eyes.page()
    stranger.goto(f"{eyes.address}{address}")
    words = stranger.inner_text("body")
    assert re.search(r"do not use|use with restriction|\buse\b", words)
    assert "An old page or a photo is no proof." in words
    eyes.look(stranger)
    assert eyes.wrong == [], eyes.wrong
