"""Tables of the journal: entries and the head of their chain."""

from __future__ import annotations

from django.db import models


class JournalEntry(models.Model):
    """One act or one refusal. ``canonical`` is the exact text that was hashed; the other columns make it searchable."""

    class Outcome(models.TextChoices):
        DONE = "done", "done"
        REFUSED = "refused", "refused"

    sequence = models.BigIntegerField(primary_key=True)
    at = models.DateTimeField(db_index=True)
    recorded_at = models.DateTimeField()
    actor_id = models.CharField(max_length=64)
    actor_name = models.CharField(max_length=150)
    actor_role = models.CharField(max_length=40)
    act = models.CharField(max_length=80)
    subject = models.CharField(max_length=120)
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    reason = models.TextField(blank=True)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    request_id = models.CharField(max_length=64, blank=True)
    canonical = models.TextField()
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ("-sequence",)
        # Each filter of the journal's page finds its newest entries in one of these, however long the journal is.
        indexes = (
            models.Index(fields=("subject", "-sequence"), name="journal_subject"),
            models.Index(fields=("act", "-sequence"), name="journal_act"),
            models.Index(fields=("actor_id", "-sequence"), name="journal_actor"),
            models.Index(
                fields=("-sequence",), name="journal_refused", condition=models.Q(outcome="refused")
            ),
        )

    def __str__(self) -> str:
        return f"{self.sequence} {self.act} {self.subject}"


class JournalHead(models.Model):
    """The one row that every outermost act locks last: the newest sequence and its hash."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    sequence = models.BigIntegerField()
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(id=1), name="journal_one_head"),)

    def __str__(self) -> str:
        return f"head at {self.sequence}"
