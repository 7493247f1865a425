"""Photos taken at the bench. Append-only."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models.photos import KeptPhoto
from instruments.measuring.models.sessions import Run


class Photo(KeptPhoto):
    """What was seen at a look of a run (append-only); ``look`` is its code, empty for the gauge as a whole.

    The same picture at the same look is the same photo.
    """

    run = models.ForeignKey(Run, models.PROTECT, related_name="photos")
    look = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ("run", "pk")
        constraints = (models.UniqueConstraint(fields=("run", "look", "sha256"), name="photo_once"),)

    def __str__(self) -> str:
        return f"photo in {self.run}"
