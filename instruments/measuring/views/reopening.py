"""What a browser keeps of the bench to open it again without the network: a worker, and one page for all sessions.

Both are made without looking at who asks, so neither can hold a name, a token or a cookie.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from urllib.parse import urljoin

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_GET

from instruments.measuring.views.session import KEYS
from labsys.pages.corridor import VERDICTS

WORKER = "instruments/bench/worker.js"

_NAMES = {
    ".html": re.compile(r'(?:href|src)="([^"]+)"'),
    ".css": re.compile(r'url\("([^")]+)"\)'),
    ".js": re.compile(r'(?:\bfrom |\bimport[ (])"(\./[^"]+)"'),
}
"""How a file names others that it is made of."""


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Give the script that opens the bench again: what it is built of, and what it does with that."""
    return _unkept(worker_text(), "text/javascript")


@require_GET
def shell(request: HttpRequest) -> HttpResponse:
    """Give the page that stands in the place of any page of the bench while the laboratory doesn't answer."""
    return _unkept(shell_text(), "text/html")


def _unkept(text: str, kind: str) -> HttpResponse:
    """Answer with what is to be asked for anew each time: a worker that a cache kept would never be followed."""
    return HttpResponse(
        text, content_type=f"{kind}; charset=utf-8", headers={"Cache-Control": "no-cache, max-age=0"}
    )


@lru_cache(maxsize=1)
def shell_text() -> str:
    """Make the page."""
    context = {"keys": KEYS, "verdicts": VERDICTS}
    return render_to_string("instruments/measuring/bench/shell.html", context)


@lru_cache(maxsize=1)
def worker_text() -> str:
    """Make the script; its version is the hash of itself and of everything it holds."""
    address, text = reverse("bench-shell"), shell_text()
    parts = {address: _hash(text.encode())} | {name: _hash(body) for name, body in held(address, text)}
    does = _file(static(WORKER)) or b""
    version = _hash(json.dumps(parts, sort_keys=True).encode() + does)[:16]
    built = json.dumps({"version": version, "shell": address, "parts": parts}, indent=1)
    return f"const BUILT = {built};\n{does.decode()}"


def held(address: str, text: str) -> Iterator[tuple[str, bytes]]:
    """Find every static file that a page needs, by what the page and its files name: address and content.

    What isn't there (a type that wasn't built) is missed on every page, and not waited for here.
    """
    found: dict[str, bytes] = {}
    waits = list(_named(address, ".html", text))
    while waits:
        name = waits.pop()
        body = None if name in found else _file(name)
        if body is not None:
            found[name] = body
            kind = Path(name).suffix
            waits += _named(name, kind, body.decode()) if kind in _NAMES else []
    yield from sorted(found.items())


def _named(address: str, kind: str, text: str) -> Iterator[str]:
    return (urljoin(address, one) for one in _NAMES[kind].findall(text))


def _file(address: str) -> bytes | None:
    """Read a static file; None for an address that is none."""
    root = static("")
    path = finders.find(address.removeprefix(root)) if address.startswith(root) else None
    return Path(str(path)).read_bytes() if path else None


def _hash(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()
