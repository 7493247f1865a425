"""A photo taken without the network stays on the tablet and goes out from whichever page of the bench is open later."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.test_nothing_lost import UNDER_WAY, sign_in
from tests.instruments.measuring.pictures import picture
from tests.stack import Stack

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.browser

PHOTOS = """
import json
from instruments.measuring.models.photos import Photo
print(json.dumps([[p.look, p.size_bytes] for p in Photo.objects.order_by("pk")]))
"""


@pytest.fixture
def context(stack: Stack, chromium_path: str) -> Iterator[BrowserContext]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        yield browser.new_context(viewport={"width": 820, "height": 1180})
        browser.close()


def stored(stack: Stack) -> list[Any]:
    done = stack.manage("shell", "-c", PHOTOS)
    assert done.returncode == 0, done.stderr
    return list(json.loads(done.stdout.splitlines()[-1]))


def looks(page: Page, stack: Stack) -> None:
    """Go to the looks of the session under way."""
    page.goto(f"{stack.address}/bench/")
    page.click(f"text={UNDER_WAY}")
    page.wait_for_load_state("networkidle")
    page.goto(f"{page.url.partition('?')[0]}?step=looks")
    page.wait_for_selector("form[data-photo] button[type=submit]", state="hidden")


def choose(page: Page, content: bytes, number: int = 0) -> None:
    field = page.locator("form[data-photo] input[type=file]").nth(number)
    field.set_input_files({"name": "damage.jpg", "mimeType": "image/jpeg", "buffer": content})


def test_a_photo_waits_for_the_network_and_is_kept_once(stack: Stack, context: BrowserContext) -> None:
    page = context.new_page()
    page.goto(f"{stack.address}/account/login/")
    sign_in(page)
    looks(page, stack)
    choose(page, picture())
    page.wait_for_selector("[data-photos-of] img[alt^='Photo.']")
    assert len(stored(stack)) == 1

    # Without the network it waits, is counted, and the session isn't handed in without it.
    context.set_offline(True)
    choose(page, picture(colour="red"), 1)
    page.wait_for_selector("#bench-photos:not([hidden])")
    assert page.inner_text("#bench-photos").startswith("1 photo waits on this tablet.")
    page.close()
    context.set_offline(False)
    assert len(stored(stack)) == 1

    # Another page of the bench sends it.
    page = context.new_page()
    page.goto(f"{stack.address}/bench/")
    page.wait_for_selector("#bench-photos", state="hidden")
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(1000)
    assert [size for _look, size in stored(stack)] == [len(picture()), len(picture(colour="red"))]

    # What is no picture is said, and taken off by a tap.
    looks(page, stack)
    assert page.locator("[data-photos-of] img").count() == 2
    choose(page, b"no picture")
    page.wait_for_selector("#bench-photos-refused:not([hidden])")
    assert "is no JPEG, PNG or WebP picture" in page.inner_text("#bench-photos-refused")
    page.click("#bench-photos-refused button")
    page.wait_for_selector("#bench-photos-refused", state="hidden")
    assert len(stored(stack)) == 2


def test_a_cable_that_sends_no_enter_is_noticed_and_the_tablet_asks_once_a_day(
    stack: Stack, context: BrowserContext
) -> None:
    page = context.new_page()
    page.goto(f"{stack.address}/account/login/")
    sign_in(page)
    page.goto(f"{stack.address}/bench/")
    page.wait_for_selector("#cable-ask:not([hidden])")
    page.click("#cable-ask >> text=Try it now")
    page.wait_for_selector("#id_sent:focus")
    page.keyboard.type("0.00")
    page.wait_for_selector("text=No Enter came")
    assert "and then nothing" in page.inner_text(".cable-came")
    page.keyboard.type("-0.01")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=It works.")
    assert "and then Enter" in page.inner_text(".cable-came")
    page.goto(f"{stack.address}/bench/")
    page.wait_for_load_state("networkidle")
    assert page.is_hidden("#cable-ask")


def test_a_label_scanned_into_the_reading_field_is_said_and_kept_nowhere(
    stack: Stack, context: BrowserContext
) -> None:
    page = context.new_page()
    page.goto(f"{stack.address}/account/login/")
    sign_in(page)
    page.goto(f"{stack.address}/bench/")
    page.click(f"text={UNDER_WAY}")
    page.wait_for_selector("#raw")
    before = readings(stack)
    page.focus("#raw")
    page.keyboard.type(f"http://127.0.0.1/f/{'0123456789abcdef' * 2}/")
    page.keyboard.press("Enter")
    page.wait_for_selector("#reading-said >> text=was not taken for a reading")
    assert page.input_value("#raw") == "", "the next reading finds an empty field"
    assert page.is_hidden("#bench-waiting")
    assert readings(stack) == before


def readings(stack: Stack) -> str:
    """Count what arrived of any kind."""
    asked = "from instruments.measuring.models import Arrival; print(Arrival.objects.count())"
    done = stack.manage("shell", "-c", asked)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()[-1]
