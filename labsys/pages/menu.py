"""The links under the person's name: own settings, second factor, sign-ins. Apps may register more."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse


@dataclass(frozen=True)
class Entry:
    """One link under the person's name."""

    name: str
    url: str


_entries: dict[str, str] = {
    "Your account": "account",
    "Password": "account_change_password",
    "Second factor": "mfa_index",
    "Where you are signed in": "usersessions_list",
}


def register(*, name: str, url_name: str) -> None:
    """Add a link under the person's name; the same name again replaces it."""
    _entries[name] = url_name


def entries(request: HttpRequest) -> list[Entry]:
    """Give the links for the person behind the request, in the order of their registration."""
    if not request.user.is_authenticated:
        return []
    return [Entry(name=name, url=reverse(url_name)) for name, url_name in _entries.items()]
