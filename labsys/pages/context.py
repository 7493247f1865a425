"""What the base page needs on every page. Lazy: a template that shows no header costs nothing."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from labsys.pages import help, menu
from labsys.pages import places as registry


def places(request: HttpRequest) -> dict[str, Any]:
    """Offer the header's places, the person's own links, the fitting help page and the lab's zone."""
    return {
        "places": SimpleLazyObject(lambda: registry.offers(request)),
        "person_menu": SimpleLazyObject(lambda: menu.entries(request)),
        "help_link": SimpleLazyObject(lambda: help.link_for(request)),
        "zone_name": settings.LAB_ZONE,
    }
