"""Tables of work to be done: owed rows, job runs, the ledger of messages."""

from __future__ import annotations

from django.db import models


class OwedWork(models.Model):
    """Something that must be done for a subject, once; stays owed until it is done."""

    kind = models.CharField(max_length=60)
    subject = models.CharField(max_length=120)
    owed_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True)
    attempts = models.PositiveIntegerField(default=0)
    last_error = models.TextField(blank=True)
    done_at = models.DateTimeField(null=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("kind", "subject"), name="owed_once", violation_error_message="Already owed."
            ),
        )
        indexes = (
            models.Index(fields=("kind", "owed_at"), name="owed_open", condition=models.Q(done_at=None)),
        )

    def __str__(self) -> str:
        return f"{self.kind} for {self.subject}"


class JobRun(models.Model):
    """One run of a job: when, how far, how it ended."""

    class Outcome(models.TextChoices):
        RUNNING = "running", "running"
        DONE = "done", "done"
        FAILED = "failed", "failed"

    name = models.CharField(max_length=60, db_index=True)
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=10, choices=Outcome.choices, default=Outcome.RUNNING)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(null=True)
    detail = models.TextField(blank=True)

    class Meta:
        ordering = ("-started_at",)

    def __str__(self) -> str:
        return f"{self.name} {self.outcome}"


class Notice(models.Model):
    """One message about something, to one recipient, once.

    planned, then claimed (a lease: safe to take again when it runs out), then handing over (written just before the
    message goes to the mail server), then sent. One whose sender died while handing over is *doubtful*: it is listed,
    and one act resends it under the same Message-ID. One that the mail server refused for good is *refused*, listed
    with the server's words.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        CLAIMED = "claimed", "claimed"
        HANDING_OVER = "handing-over", "handing over"
        SENT = "sent", "sent"
        DOUBTFUL = "doubtful", "doubtful"
        REFUSED = "refused", "refused"

    recipient = models.CharField(max_length=64, help_text="who, as a text: person:7")
    address = models.EmailField()
    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=120)
    period = models.CharField(max_length=20)
    title = models.CharField(max_length=200)
    body = models.TextField()
    message_id = models.CharField(max_length=200, unique=True)
    state = models.CharField(max_length=14, choices=State.choices, default=State.PLANNED, db_index=True)
    planned_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True)
    claimed_by = models.CharField(max_length=64, blank=True)
    handing_over_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    attempts = models.PositiveIntegerField(default=0)
    last_error = models.TextField(blank=True)

    class Meta:
        ordering = ("-planned_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("recipient", "kind", "subject", "period"),
                name="notice_once",
                violation_error_message="This message is already planned for this recipient and period.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} to {self.recipient} for {self.period}"
