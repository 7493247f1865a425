"""Looking at pages in a real Chromium: tablet and desk, light and dark, axe, overflow, console, foreign requests.

The pages are made first, through the test client, and given to the browser as they are, because while a browser runs
in this thread the database can't be asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from django.contrib.staticfiles import finders
from django.test import Client

from labsys.pages import fonts

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

HOST = "http://localhost"
# Each size and each scheme once: the sizes differ in layout, the schemes in colours, and neither in the other.
LOOKS: tuple[tuple[int, int, Any], ...] = ((820, 1180, "light"), (1366, 768, "dark"))

# Nobody is there whom a service worker could be fetched from, and these answers would not reach it.
NO_WORKER = (
    "if (self.ServiceWorkerContainer) ServiceWorkerContainer.prototype.register = async () => undefined;"
)


@dataclass(frozen=True)
class Made:
    """A page as the server made it."""

    status: int
    headers: dict[str, str]
    body: bytes

    @classmethod
    def of(cls, response: Any) -> Made:
        """Keep an answer of the test client."""
        return cls(response.status_code, dict(response.items()), response.content)


def make(client: Client, addresses: Iterable[str]) -> dict[str, Made]:
    """Make pages, each of which has to open."""
    made = {address: Made.of(client.get(address)) for address in addresses}
    assert {address: page.status for address, page in made.items() if page.status != 200} == {}
    return made


def complaints(
    pages: dict[str, Made], chromium_path: str, *, parts: dict[str, Made] | None = None
) -> list[str]:
    """Open every page in every look and list everything that is wrong with it; ``parts`` are what they ask for."""
    from playwright.sync_api import sync_playwright

    fonts.build()
    found: list[str] = []
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        for look in LOOKS:
            found += _look(browser, pages, parts or {}, look)
        browser.close()
    return found


def _look(
    browser: Browser, pages: dict[str, Made], parts: dict[str, Made], look: tuple[int, int, Any]
) -> list[str]:
    found: list[str] = []
    width, height, scheme = look
    viewport: Any = {"width": width, "height": height}
    context = browser.new_context(viewport=viewport, color_scheme=scheme, reduced_motion="reduce")
    context.add_init_script(NO_WORKER)
    page = context.new_page()
    page.on("console", lambda message: found.append(f"console: {message.text}"))
    page.on("pageerror", lambda error: found.append(f"error: {error}"))
    page.route("**/*", lambda route: _answer(route, pages | parts, found))
    for address in pages:
        found += [f"{address} {width} {scheme}: {fault}" for fault in _faults(page, address, width)]
    context.close()
    return found


def _answer(route: Route, pages: dict[str, Made], found: list[str]) -> None:
    """Answer with a page made before or a file of our own; whatever asks for anything else is wrong."""
    address = urlsplit(route.request.url)
    path = f"{address.path}?{address.query}" if address.query else address.path
    static = finders.find(path.removeprefix("/static/")) if path.startswith("/static/") else None
    made = pages.get(path) if f"{address.scheme}://{address.netloc}" == HOST else None
    if made is not None:
        # A browser says an error on its console for any status but success; here it only looks.
        route.fulfill(status=200, headers=made.headers, body=made.body)
    elif static:
        route.fulfill(path=str(static))
    else:
        found.append(f"asks for {route.request.url}")
        route.abort()


def _faults(page: Page, address: str, width: int) -> list[str]:
    from axe_playwright_python.sync_playwright import Axe

    page.goto(f"{HOST}{address}")
    page.evaluate("document.fonts.ready")
    wide = page.evaluate("document.documentElement.scrollWidth")
    report = Axe().run(page)
    faults = [f"{wide} px wide"] if wide > width else []
    return faults + ([report.generate_report()] if report.violations_count else [])
