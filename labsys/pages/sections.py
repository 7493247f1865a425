"""The sections of a place: what its first page lists. Apps say at start which they bring, lower ones knowing none.

Who may see a section is the registering app's word, as with places.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from labsys.errors import LabError


class SectionTaken(LabError, ValueError):
    """Two apps bring a section of the same name to one place."""

    code = "section-taken"
    sentence = (
        "The place {place} has a section “{name}” already, which leads to {taken}. Choose another name."
    )


@dataclass(frozen=True)
class Section:
    """One section: its name, the name of its address, what one finds there, and the permission to see it."""

    name: str
    url_name: str
    says: str
    permission: str
    group: str = ""

    @property
    def url(self) -> str:
        """Give its address."""
        return reverse(self.url_name)


_sections: dict[str, dict[str, Section]] = {}


def register(place: str, section: Section) -> None:
    """Bring a section to a place; raises SectionTaken."""
    known = _sections.setdefault(place, {})
    taken = known.get(section.name)
    if taken is not None and taken.url_name != section.url_name:
        raise SectionTaken(place=place, name=section.name, taken=taken.url_name)
    known[section.name] = section


def of_place(place: str, request: HttpRequest) -> dict[str, list[Section]]:
    """Give the sections that the person behind the request may see, by group, in the order of their registration."""
    groups: dict[str, list[Section]] = {}
    for section in _sections.get(place, {}).values():
        if request.user.has_perm(section.permission):
            groups.setdefault(section.group, []).append(section)
    return groups
