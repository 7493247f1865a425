"""What the pages of people share: who asks, whom an address names, the way to a person's page."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from labsys.accounts.models import Person
from labsys.accounts.queries import people
from labsys.pages.form_page import Step


def asking(request: HttpRequest) -> Person:
    """Give the person behind a request that passed the sign-in."""
    return cast(Person, request.user)


def person_or_404(pk: int) -> Person:
    """Find the person an address names."""
    return get_object_or_404(people(), pk=pk)


def home(person: Person) -> str:
    """Give the address of a person's page."""
    return reverse("person", args=[person.pk])


def path_to_people() -> tuple[Step, ...]:
    """Give the way to the list of people."""
    return (("Lab", reverse("lab")), ("People", reverse("people")))


def path_to(person: Person) -> tuple[Step, ...]:
    """Give the way to a person's page."""
    return (*path_to_people(), (person.name, home(person)))
