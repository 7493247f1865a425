"""Photos kept as evidence: what every such row holds, and those of a step of a gauge's way. Append-only."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models.life import CustodyEvent
from labsys.accounts.models import Person


class KeptPhoto(models.Model):
    """A photo as it came, with its hash, and its preview; ``file`` and ``preview`` are names in the store."""

    file = models.CharField(max_length=200)
    preview = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=20)
    size_bytes = models.PositiveIntegerField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        abstract = True


class CustodyPhoto(KeptPhoto):
    """A photo of a gauge at a step of its way: the condition it came in (append-only)."""

    event = models.ForeignKey(CustodyEvent, models.PROTECT, related_name="photos")

    class Meta:
        ordering = ("event", "pk")
        constraints = (models.UniqueConstraint(fields=("event", "sha256"), name="custody_photo_once"),)

    def __str__(self) -> str:
        return f"photo of {self.event}"
