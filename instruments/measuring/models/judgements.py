"""Tables of what is decided about a session: deviations, what was handed in, its results, the second person's word."""

from __future__ import annotations

from django.db import models

from instruments.measuring.models.observations import Reading
from instruments.measuring.models.sessions import Point, Run, Session
from labsys.accounts.models import Person, Signature
from labsys.journal.rows import length_field


class Deviation(models.Model):
    """A rule the session breaks, accepted by the reviewer with a reason (append-only)."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="deviations")
    rule = models.CharField(max_length=60)
    sentence = models.TextField()
    reason = models.TextField()
    owner_consent = models.CharField(max_length=200, blank=True)
    accepted_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("session", "rule", "sentence"), name="deviation_once"),
        )

    def __str__(self) -> str:
        return f"{self.rule} in {self.session}"


class Submission(models.Model):
    """A session handed in: the canonical text of everything observed, its hash, who answers for it (append-only)."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="submissions")
    number = models.PositiveSmallIntegerField()
    record = models.TextField()
    record_sha256 = models.CharField(max_length=64)
    submitted_at = models.DateTimeField()
    submitted_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("session", "-number")
        constraints = (
            models.UniqueConstraint(fields=("session", "number"), name="submission_number_unique"),
        )

    def __str__(self) -> str:
        return f"submission {self.number} of {self.session}"


class Result(models.Model):
    """What the reading rule makes of one or more points, with U, limits and verdict (append-only).

    ``function`` is the line of limits it is judged by; ``name`` says what several points have together. ``budget`` and
    ``decision`` hold both views of the uncertainty and every figure of the verdict as canonical JSON. A value that no
    limit is agreed for has neither limits nor verdict; one that fits or doesn't has no U.
    """

    class Kind(models.TextChoices):
        ERROR = "error", "error of indication"
        DEVIATION = "deviation", "deviation of size"
        VALUE = "value", "measured value"
        SPAN = "span", "span of the errors"
        SECTION = "section", "span of the errors over a short section"
        HYSTERESIS = "hysteresis", "hysteresis"
        SPREAD = "spread", "repeatability"
        VARIATION = "variation", "variation of length"
        ROUNDNESS = "roundness", "out of round"
        TAPER = "taper", "taper"
        ATTRIBUTE = "attribute", "fit"

    submission = models.ForeignKey(Submission, models.PROTECT, related_name="results")
    run = models.ForeignKey(Run, models.PROTECT, related_name="results")
    points = models.ManyToManyField(Point, related_name="results")
    reading = models.ForeignKey(Reading, models.PROTECT, related_name="+", null=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    function = models.CharField(max_length=20)
    name = models.CharField(max_length=120, blank=True, default="")
    value_mm = length_field()
    U_mm = length_field(
        null=True, help_text="calibration uncertainty, expanded: what the certificate reports"
    )
    U_test_mm = length_field(null=True, help_text="test-value uncertainty, expanded")
    k = models.DecimalField(max_digits=6, decimal_places=3, null=True)
    lower_mm = length_field(null=True)
    upper_mm = length_field(null=True)
    within_limits = models.BooleanField(null=True)
    verdict = models.CharField(max_length=20, blank=True)
    budget = models.TextField()
    decision = models.TextField()
    evaluated_at = models.DateTimeField()

    class Meta:
        ordering = ("submission", "pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(kind="attribute")
                | models.Q(U_mm__isnull=False, U_test_mm__isnull=False, k__isnull=False),
                name="result_has_uncertainty",
                violation_error_message="A measured result needs its uncertainty.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.name or self.function}: {self.value_mm}"


class Review(models.Model):
    """What a second person decided about a submission (append-only)."""

    class Decision(models.TextChoices):
        APPROVED = "approved", "approved"
        RETURNED = "returned", "returned"

    submission = models.OneToOneField(Submission, models.PROTECT, related_name="review")
    decision = models.CharField(max_length=8, choices=Decision.choices)
    reason = models.TextField(blank=True)
    reviewer = models.ForeignKey(Person, models.PROTECT, related_name="+")
    reviewed_at = models.DateTimeField()
    signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(decision="approved", signature__isnull=False)
                | models.Q(decision="returned") & ~models.Q(reason=""),
                name="review_signed_or_reasoned",
                violation_error_message="An approval carries a signature; a return carries its reason.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.submission} {self.get_decision_display()}"
