"""Tables of certificates."""

from __future__ import annotations

from django.db import models

from instruments.measuring.models import Session, Submission
from labsys.accounts.models import Signature
from labsys.laboratory.models import opaque_code


class NumberSeries(models.Model):
    """A run of numbers without gaps or repeats; its row is locked while a number is taken."""

    code = models.CharField(max_length=20, unique=True)
    prefix = models.CharField(max_length=20)
    last = models.PositiveIntegerField(default=0)
    confirmed = models.BooleanField(
        default=True, help_text="after a restore, off until the last number is confirmed"
    )

    class Meta:
        verbose_name_plural = "number series"

    def __str__(self) -> str:
        return f"{self.prefix} {self.last}"


class Certificate(models.Model):
    """One certificate: its number, the frozen document, the file it was rendered to, who authorised it."""

    class State(models.TextChoices):
        NUMBERED = "numbered", "numbered, rendering owed"
        ISSUED = "issued", "issued"
        SUPERSEDED = "superseded", "superseded"
        WITHDRAWN = "withdrawn", "withdrawn"

    number = models.CharField(max_length=40, unique=True)
    code = models.CharField(max_length=32, unique=True, default=opaque_code)
    session = models.ForeignKey(Session, models.PROTECT, related_name="certificates")
    submission = models.ForeignKey(Submission, models.PROTECT, related_name="certificates")
    supersedes = models.OneToOneField("self", models.PROTECT, null=True, related_name="superseded_by")
    document = models.TextField(help_text="canonical JSON of everything the pages say")
    document_sha256 = models.CharField(max_length=64)
    signature = models.ForeignKey(Signature, models.PROTECT, related_name="+")
    numbered_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.NUMBERED, db_index=True)
    file = models.FileField(upload_to="certificates/", blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    issued_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-numbered_at", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(state="numbered") | ~models.Q(file_sha256=""),
                name="certificate_issued_has_file",
                violation_error_message="A certificate is issued when its file and hash are stored.",
            ),
        )

    def __str__(self) -> str:
        return self.number
