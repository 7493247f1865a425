"""Photos of a run as pages show them: each with what it shows, in words."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from instruments.measuring.models import Run
from instruments.measuring.models.photos import Photo
from instruments.procedures.content import Content
from labsys.laboratory.queries import local_time

WHOLE = "The gauge as a whole"


@dataclass(frozen=True)
class PhotoShown:
    """A photo with the text of its look, and in words what it is, for who can't see it."""

    photo: Photo
    of: str

    @property
    def says(self) -> str:
        """Say what it shows, when it was taken and by whom."""
        row = self.photo
        note = f" {row.note}." if row.note else ""
        return f"{self.of.rstrip('.')}.{note} {local_time(row.at)}, {row.by.name}"


def photos_of(run: Run, content: Content) -> tuple[PhotoShown, ...]:
    """List the photos of a run in the order they came."""
    texts = {look.code: look.text for look in content.looks}
    rows = Photo.objects.filter(run=run).select_related("by").order_by("pk")
    return tuple(PhotoShown(row, texts.get(row.look, row.look) or WHOLE) for row in rows)


def by_look(photos: tuple[PhotoShown, ...]) -> dict[str, list[PhotoShown]]:
    """Sort photos by the code of their look; empty for the gauge as a whole."""
    found: dict[str, list[PhotoShown]] = defaultdict(list)
    for one in photos:
        found[one.photo.look].append(one)
    return found
