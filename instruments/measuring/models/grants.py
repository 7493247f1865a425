"""The table of bench grants: keys with which a tablet deposits what was typed, whatever became of the sign-in."""

from __future__ import annotations

from django.db import models

from labsys.accounts.models import Person


class BenchGrant(models.Model):
    """A key for one person on one device, good for depositing alone until a day (append-only but for its end).

    Only its hash is kept. What is deposited with it counts as that person's, and is judged by what that person may do.
    """

    person = models.ForeignKey(Person, models.PROTECT, related_name="bench_grants")
    device = models.CharField(max_length=64)
    key_sha256 = models.CharField(max_length=64, unique=True)
    granted_at = models.DateTimeField()
    until = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    class Meta:
        indexes = (models.Index(fields=("person", "device"), name="bench_grant_of_device"),)

    def __str__(self) -> str:
        return f"bench grant of {self.person}"
