"""A micrometer, an indicator, a plug and a protractor in Chromium at tablet size, from start to a signed certificate.

Everything by keyboard: fingers use Tab and Enter, the gauge or comparator types its readings like a keyboard and ends
with Enter. The caliper's way is tests/browser/test_main_job.py.
"""

from __future__ import annotations

import re
from decimal import Decimal as D
from typing import TYPE_CHECKING

import pytest

from tests.browser.test_main_job import Eyes, eyes

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["eyes"]

pytestmark = pytest.mark.browser

BOUNCE_MS = 1050  # the same value again within a second is held back
ANSWERED_MS = 15_000
STATE = """() => [
    [...document.querySelectorAll('#reading-for input:not([name=client_id])')].map(one => one.value).join(' '),
    document.querySelectorAll('#bench-entries li:not(.quiet)').length,
    location.pathname + location.search,
]"""


def tab_to(page: Page, selector: str, most: int = 60) -> None:
    """Press Tab until the focus is on what the selector names."""
    for _ in range(most):
        if page.evaluate("selector => document.activeElement?.matches(selector) ?? false", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{selector} can't be reached by Tab")


def press(page: Page, selector: str) -> None:
    """Go to a link or button by Tab, and press Enter."""
    tab_to(page, selector)
    page.keyboard.press("Enter")
    page.wait_for_load_state("networkidle")


def next_look(page: Page) -> str | None:
    """Read the look that is asked for now; None after the last. While the page changes, nothing is."""
    from playwright.sync_api import Error

    try:
        page.wait_for_load_state("networkidle")
        found = page.query_selector(".look.is-next")
        return None if found is None else found.inner_text()
    except Error:
        return next_look(page)


def begin(page: Page, eyes: Eyes, tag: str) -> None:
    """Find the gauge, open its session, answer the looks and note the room."""
    page.goto(f"{eyes.address}/bench/")
    tab_to(page, "#find_label")
    page.keyboard.type(tag)
    page.keyboard.press("Enter")
    page.wait_for_load_state("networkidle")
    press(page, "main form button.button-main")
    page.wait_for_selector(".look.is-next")  # the page before is idle too
    while (asked := next_look(page)) is not None:
        tab_to(page, ".look.is-next button[value=good]")
        page.keyboard.press("Enter")
        for _ in range(ANSWERED_MS // 50):
            page.wait_for_timeout(50)
            if next_look(page) != asked:
                break
    page.goto(page.url.partition("?")[0] + "?step=room")
    tab_to(page, "#temperature_c")
    page.keyboard.type("20.1")
    page.keyboard.press("Tab")
    page.keyboard.type("45")
    page.keyboard.press("Enter")
    page.wait_for_selector("#raw")


def shown(page: Page) -> str:
    """Say what the gauge would show at the target on the page: nearly its length, nearly the size, one band."""
    heading, label = page.inner_text("#bench-instruction h2"), page.inner_text("#reading-label")
    asked = page.inner_text("#bench-instruction")
    length = re.search(r"([\d.]+)\s*mm", heading)
    if "Bands" in label:
        return "1"
    if "yes or no" in label:
        return "yes"
    if angle := re.search(r"(\d+)°\s*(\d+)′", heading):
        return f"{angle[1]} {angle[2]}"
    if "Difference" in label:
        used = re.search(r"value used ([\d.]+)", asked)
        assert length is not None and used is not None
        return f"{round((D(length[1]) - D(used[1])) * 10000) / D(10) + D('0.3'):.1f}"
    assert length is not None, heading
    return length[1]


def state(page: Page) -> object:
    """Read what the page asks for and how much was read there; while the page changes, nothing."""
    from playwright.sync_api import Error

    try:
        return page.evaluate(STATE)
    except Error:
        return None


def measure(page: Page, zero: str) -> int:
    """Type every reading as a cable does; gives how many there were."""
    last, count = "", 0
    while page.query_selector("#raw"):
        at_zero = "zero" in page.inner_text("#bench-instruction h2").lower()
        raw = zero if at_zero else shown(page)
        before = state(page)
        if raw == last:
            page.wait_for_timeout(BOUNCE_MS)
        page.focus("#raw")
        page.keyboard.type(raw)
        page.keyboard.press("Enter")
        for _ in range(ANSWERED_MS // 50):
            page.wait_for_timeout(50)
            if state(page) not in (before, None):
                break
        else:
            raise AssertionError(f"“{raw}” was not taken: {page.inner_text('main')[:600]}")
        page.wait_for_load_state("networkidle")
        last, count = raw, count + 1
    return count


@pytest.mark.parametrize(
    ("tag", "zero", "readings", "says"),
    [
        ("M-0008", "25.000", 26, ("Parallelism of the faces, by readings", "Flatness of the anvil")),
        ("I-0003", "0.00", 72, ("Error span, going in", "Hysteresis")),
        ("P-0003", "0.0", 15, ("Out of round", "Taper")),
        ("A-0002", "0 00", 18, ("Quadrant of the disc", "Straightness by the light gap")),
    ],
    ids=["micrometer", "indicator", "plug", "protractor"],
)
def test_a_gauge_goes_from_start_to_certificate_by_keyboard(
    eyes: Eyes, tag: str, zero: str, readings: int, says: tuple[str, ...]
) -> None:
    technician = eyes.person("technician")
    begin(technician, eyes, tag)
    eyes.look(technician)
    assert measure(technician, zero) == readings
    eyes.look(technician)
    press(technician, "main form button.button-main")
    technician.wait_for_url("**/sessions/*/")
    reviewer = eyes.person("reviewer")
    reviewer.click(f"text={tag}")
    eyes.look(reviewer)
    assert all(word in reviewer.inner_text("main") for word in says)
    tab_to(reviewer, "input[name=password]", most=400)
    reviewer.keyboard.type("reviewer-of-the-demo")
    reviewer.keyboard.press("Enter")
    reviewer.wait_for_url("**/certificates/*/")
    eyes.look(reviewer)
    words = reviewer.inner_text("main")
    assert tag in words and all(word in words for word in says)
    assert eyes.wrong == [], eyes.wrong
