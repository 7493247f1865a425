"""The pages of standards in Chromium, tablet and desk, light and dark: axe finds nothing, nothing overflows.

The pages are made first, through the test client, and given to the browser as they are: while a browser runs in this
thread the database can't be asked.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from labsys.pages import fonts
from standards.register.models import Calibration
from standards.traceability.models import CertificateReceived
from tests.standards.conftest import at

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

HOST = "http://localhost"
LOOKS: list[tuple[tuple[int, int], Any]] = [
    ((820, 1180), "light"),
    ((1366, 768), "light"),
    ((820, 1180), "dark"),
]
Pages = dict[str, tuple[int, dict[str, str], bytes]]
pytestmark = [pytest.mark.browser]


@pytest.fixture
def pages(
    master: Calibration,
    working: Calibration,
    receive: Callable[..., CertificateReceived],
    sign_in: Callable[[str], Client],
    time_machine: Any,
) -> Pages:
    """Make every page once, with something to show on each: a chain of three, a certificate that waits."""
    time_machine.move_to(at("2024-09-02"))
    day = date(2024, 8, 28)
    waiting = receive(
        master.standard,
        number="N-2",
        calibrated_on=day,
        issued_on=day,
        file=None,
        conditions="",
        now=at("2024-09-01"),
    )
    client, standard = sign_in("manager"), master.standard_id
    accepted = CertificateReceived.objects.get(number="N-1")
    wanted = [
        reverse("standards"),
        reverse("standard", args=[working.standard_id]),
        reverse("standard", args=[standard]) + "?on=2024-01-20",
        reverse("standard-new"),
        reverse("standard-state", args=[standard]),
        reverse("certificate-receive", args=[standard]),
        reverse("certificates-received"),
        reverse("certificate-received", args=[waiting.pk]),
        reverse("certificate-received", args=[accepted.pk]),
        reverse("calibration-chain", args=[working.pk]),
        reverse("calibration-chain", args=[working.pk]) + "?on=2026-01-01",
        reverse("issuers"),
        reverse("issuer", args=[accepted.issuer_id]),
        reverse("scope-new", args=[accepted.issuer_id]),
        "/help/standards/",
    ]
    found = {path: _kept(client.get(path)) for path in wanted}
    refused = client.post(reverse("certificate-receive", args=[standard]), {"number": "N-1", "unit": "µm"})
    return {**found, "/refused/": _kept(refused)}


def _kept(response: Any) -> tuple[int, dict[str, str], bytes]:
    return response.status_code, dict(response.items()), response.content


def answer(route: Route, pages: Pages, strays: list[str]) -> None:
    """Answer with a page made before or a file of our own; remember whatever asks for anything else."""
    address = urlsplit(route.request.url)
    path = f"{address.path}?{address.query}" if address.query else address.path
    static = finders.find(address.path.removeprefix("/static/")) if path.startswith("/static/") else None
    if f"{address.scheme}://{address.netloc}" == HOST and path in pages:
        status, headers, body = pages[path]
        route.fulfill(status=200 if status == 422 else status, headers=headers, body=body)
    elif static:
        route.fulfill(path=static)
    else:
        strays.append(route.request.url)
        route.abort()


def look(page: Page, path: str, size: tuple[int, int]) -> list[str]:
    """Open a page and list everything that is wrong with it."""
    from axe_playwright_python.sync_playwright import Axe

    page.goto(f"{HOST}{path}")
    page.evaluate("document.fonts.ready")
    wide = page.evaluate("document.documentElement.scrollWidth")
    wrong = [f"{path} is {wide} px wide"] if wide > size[0] else []
    found = Axe().run(page)
    return [*wrong, f"{path}: {found.generate_report()}"] if found.violations_count else wrong


@pytest.mark.parametrize(("size", "scheme"), LOOKS)
def test_every_page(size: tuple[int, int], scheme: Any, pages: Pages, chromium_path: str) -> None:
    from playwright.sync_api import sync_playwright

    fonts.build()
    assert {path for path, kept in pages.items() if kept[0] not in (200, 422)} == set()
    complaints: list[str] = []
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        viewport: Any = {"width": size[0], "height": size[1]}
        context = browser.new_context(viewport=viewport, color_scheme=scheme, reduced_motion="reduce")
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.route("**/*", lambda route: answer(route, pages, complaints))
        for path in pages:
            complaints += look(page, path, size)
        browser.close()
    assert not complaints, "\n".join(complaints)
