"""Who is behind a request that has passed the sign-in."""

from __future__ import annotations

from django.http import HttpRequest

from labsys.accounts.models import Person


def person_behind(request: HttpRequest) -> Person:
    """Give the person; the view's decorator has seen to it that there is one."""
    person = request.user
    assert isinstance(person, Person)
    return person
