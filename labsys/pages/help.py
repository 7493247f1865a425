"""Help inside the program: one page per place, written for the person who stands there.

Apps register theirs at start; the text itself is a template. The help of signing in lives here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from labsys.errors import LabError

_SLUG = re.compile(r"[a-z][a-z0-9-]*")
RESERVED = frozenset({"elements"})


class HelpTaken(LabError, ValueError):
    """A help page's name is no plain word, or stands for another page already."""

    code = "help-taken"
    sentence = "“{slug}” can't name the help page “{title}”: {reason}. Choose another plain lower-case word."


@dataclass(frozen=True)
class HelpPage:
    """A page of help; ``prefix`` is the beginning of the addresses that it explains."""

    slug: str
    title: str
    template: str
    prefix: str = ""

    @property
    def url(self) -> str:
        """Give the page's own address."""
        return reverse("help-page", args=[self.slug])


@dataclass(frozen=True)
class HelpLink:
    """The link to help that a page shows in its footer."""

    title: str
    url: str


_pages: dict[str, HelpPage] = {}


def register(*, slug: str, title: str, template: str, prefix: str = "") -> None:
    """Add a page of help; ``prefix`` (such as ``/gauges/``) makes the pages below that address link to it."""
    page = HelpPage(slug=slug, title=title, template=template, prefix=prefix)
    if not _SLUG.fullmatch(slug) or slug in RESERVED:
        raise HelpTaken(slug=slug, title=title, reason="it isn't a free plain word")
    if _pages.get(slug, page) != page:
        raise HelpTaken(slug=slug, title=title, reason=f"“{_pages[slug].title}” has it")
    _pages[slug] = page


def pages() -> list[HelpPage]:
    """Give every page of help, by title."""
    return sorted(_pages.values(), key=lambda page: page.title)


def find(slug: str) -> HelpPage | None:
    """Give the page of that name, or None."""
    return _pages.get(slug)


def link_for(request: HttpRequest) -> HelpLink:
    """Give the help that belongs to the page asked for: the longest fitting prefix, otherwise the list of all."""
    fitting = [page for page in _pages.values() if page.prefix and request.path.startswith(page.prefix)]
    if not fitting:
        return HelpLink(title="all pages", url=reverse("help"))
    page = max(fitting, key=lambda one: len(one.prefix))
    return HelpLink(title=page.title, url=page.url)


register(slug="signing-in", title="Signing in", template="labsys/help/signing-in.html", prefix="/account/")
register(slug="lab", title="Lab", template="labsys/help/lab.html", prefix="/lab/")
