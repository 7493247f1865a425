"""A light brake on public pages: so many questions a minute from one address, counted in the cache."""

from __future__ import annotations

from allauth.account.adapter import get_adapter
from django.core.cache import cache
from django.http import HttpRequest

A_MINUTE_S, MOST = 60, 60


def too_often(request: HttpRequest, what: str, *, most: int = MOST) -> bool:
    """Count this request and tell whether its address has asked more than ``most`` times within the minute."""
    key = f"asked:{what}:{get_adapter(request).get_client_ip(request)}"
    cache.add(key, 0, A_MINUTE_S)
    try:
        return bool(cache.incr(key) > most)
    except ValueError:  # it lapsed between the two
        return False
