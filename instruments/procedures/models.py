"""Tables of procedures."""

from __future__ import annotations

from django.db import models

from labsys.accounts.models import Person, Signature
from labsys.laboratory.models import Family


class Procedure(models.Model):
    """How a family of gauges is calibrated; its content stands in revisions."""

    code = models.CharField(max_length=30, unique=True)
    title = models.CharField(max_length=120)
    family = models.ForeignKey(Family, models.PROTECT, related_name="procedures")

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class Revision(models.Model):
    """One version of a procedure. Once approved its content is frozen by the database; retiring leaves it readable."""

    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    content = models.TextField(help_text="canonical JSON; what it may hold is checked before it is saved")
    content_sha256 = models.CharField(max_length=64)
    change = models.TextField(blank=True, help_text="what changed against the one before, and why")
    drafted_by = models.CharField(max_length=150)
    drafted_by_id_text = models.CharField(max_length=64)
    drafted_at = models.DateTimeField()
    authors = models.JSONField(
        help_text="the ids of everybody who wrote on the draft; none of them approves it"
    )
    approved_at = models.DateTimeField(null=True)
    approval = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")
    retired_at = models.DateTimeField(null=True)
    comparison = models.JSONField(
        null=True, help_text="first order against simulation at approval; none before it was made"
    )

    class Meta:
        ordering = ("procedure", "-number")
        constraints = (
            models.UniqueConstraint(fields=("procedure", "number"), name="revision_number_unique"),
            models.UniqueConstraint(
                fields=("procedure",),
                condition=models.Q(approved_at=None),
                name="revision_one_draft",
                violation_error_message="This procedure already has a draft. Finish or change that one.",
            ),
            models.CheckConstraint(
                condition=models.Q(approved_at=None, approval=None)
                | models.Q(approved_at__isnull=False, approval__isnull=False),
                name="revision_approval_signed",
                violation_error_message="An approved revision carries its signature.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.procedure.code} revision {self.number}"


class ProcedureValidation(models.Model):
    """A draft tried on past sessions before it was approved, kept as evidence (append-only; 17025:2017, 7.2.2).

    ``record`` is the canonical text of everything that was found; the counts at its head stand in columns. It speaks
    of the content whose hash it names: a draft changed since was not tried.
    """

    class Rule(models.TextChoices):
        AGREED = "agreed", "the rule that each session's owner had agreed on"
        OWN = "own", "the draft's own rule"

    revision = models.ForeignKey(Revision, models.PROTECT, related_name="validations")
    content_sha256 = models.CharField(max_length=64)
    rule = models.CharField(max_length=6, choices=Rule.choices)
    session_count = models.PositiveIntegerField()
    result_count = models.PositiveIntegerField()
    changed_count = models.PositiveIntegerField(help_text="verdicts that the draft would give otherwise")
    unjudged_count = models.PositiveIntegerField(help_text="results that the draft does not come to")
    record = models.TextField()
    record_sha256 = models.CharField(max_length=64)
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("revision", "-kept_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("revision", "record_sha256"),
                name="procedure_validation_once",
                violation_error_message="This very outcome is kept already.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.revision} tried on {self.session_count} past sessions"
