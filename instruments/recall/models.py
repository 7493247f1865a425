"""Tables of recall."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models import Gauge, GaugeState
from labsys.accounts.models import Person
from labsys.journal.rows import DatedRow


class VerdictWord(models.TextChoices):
    """The verdict on a whole gauge, as decided by the agreed rule."""

    IN_TOLERANCE = "in_tolerance", "in tolerance"
    CONDITIONAL_INSIDE = "conditional_inside", "conditional, inside"
    NOT_DECIDED = "not_decided", "not decided"
    NOT_ACCEPTED = "not_accepted", "not accepted"
    CONDITIONAL_OUTSIDE = "conditional_outside", "conditional, outside"
    OUT_OF_TOLERANCE = "out_of_tolerance", "out of tolerance"


class CalibrationEvent(models.Model):
    """A calibration of a gauge that counts: an approved session or an accepted outside certificate (append-only)."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="calibration_events")
    source = models.CharField(max_length=60, unique=True, help_text="session:812 or outside:4")
    calibrated_on = models.DateField(help_text="the day the measurements ended")
    recorded_at = models.DateTimeField()
    as_found = models.CharField(max_length=20, choices=VerdictWord.choices, blank=True)
    as_found_within_limits = models.BooleanField(
        null=True, help_text="by the error alone, against the plain limits"
    )
    as_left = models.CharField(max_length=20, choices=VerdictWord.choices)
    adjusted = models.BooleanField(default=False)
    interval_months = models.PositiveSmallIntegerField()
    due_on = models.DateField()

    class Meta:
        ordering = ("-calibrated_on", "-pk")
        indexes = (models.Index(fields=("gauge", "-calibrated_on"), name="event_last"),)

    def __str__(self) -> str:
        return f"{self.gauge} on {self.calibrated_on:%Y-%m-%d}"


class OutsideCertificate(models.Model):
    """A certificate for a gauge from another laboratory, received and then accepted or rejected."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="outside_certificates")
    issuer = models.CharField(max_length=120)
    number = models.CharField(max_length=80)
    calibrated_on = models.DateField()
    verdict = models.CharField(max_length=20, choices=VerdictWord.choices, help_text="as left")
    as_found = models.CharField(max_length=20, choices=VerdictWord.choices, blank=True)
    as_found_within_limits = models.BooleanField(null=True)
    adjusted = models.BooleanField(default=False)
    accreditation = models.CharField(max_length=120, blank=True, help_text="empty: none stated")
    file = models.FileField(upload_to="outside-certificates/")
    file_sha256 = models.CharField(max_length=64)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField(null=True)
    rejected_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    decision_reason = models.TextField(blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("issuer", "number"),
                name="outside_certificate_once",
                violation_error_message="A certificate of this issuer with this number is already on file.",
            ),
            models.CheckConstraint(
                condition=models.Q(accepted_at=None) | models.Q(rejected_at=None),
                name="outside_certificate_one_decision",
            ),
        )

    def __str__(self) -> str:
        return f"{self.issuer} {self.number}"


class IntervalAssignment(DatedRow):
    """The recall interval of a gauge from an instant on, with the reason; without one its family's default holds."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="intervals")
    months = models.PositiveSmallIntegerField()
    decided_by = models.CharField(max_length=150)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(months__gte=1, months__lte=120),
                name="interval_months_sane",
                violation_error_message="An interval lies between 1 and 120 months.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.gauge}: {self.months} months"


class Hold(models.Model):
    """A block on a gauge, from the moment it is set until somebody lifts it with a reason.

    ``owed`` says that a higher room must still take it up (open a case); the block itself holds at once.
    """

    class Kind(models.TextChoices):
        OUT_OF_TOLERANCE = "out-of-tolerance", "found out of tolerance"
        DAMAGE = "damage", "reported damage"
        FAILED_CHECK = "failed-check", "failed check"
        OTHER = "other", "other"

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="holds")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    reason = models.TextField()
    source = models.CharField(max_length=60, blank=True)
    since_at = models.DateTimeField()
    set_by = models.CharField(max_length=150)
    owed = models.BooleanField(default=False)
    lifted_at = models.DateTimeField(null=True)
    lifted_by = models.CharField(max_length=150, blank=True)
    lifted_reason = models.TextField(blank=True)

    class Meta:
        ordering = ("-since_at",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(lifted_at=None) | ~models.Q(lifted_reason=""),
                name="hold_lifted_with_reason",
                violation_error_message="A hold is lifted with a reason.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.gauge}: {self.get_kind_display()}"


class Restriction(DatedRow):
    """What a gauge may still be used for: functions and range, approved, the owner consenting; lifted by a row."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="restrictions")
    functions = models.JSONField(default=list)
    text = models.CharField(max_length=300, blank=True, help_text="as the floor reads it")
    approved_by = models.CharField(max_length=150)
    owner_consent = models.CharField(max_length=200, blank=True)
    lifted = models.BooleanField(default=False)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(lifted=True) | ~models.Q(text=""),
                name="restriction_has_text",
                violation_error_message="Say what the gauge may be used for.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.gauge}: {self.text or 'lifted'}"


class Extension(models.Model):
    """A due date put off, once per calibration, by a competent person with a reason (append-only)."""

    event = models.OneToOneField(CalibrationEvent, models.PROTECT, related_name="extension")
    to_on = models.DateField()
    approved_by = models.CharField(max_length=150)
    approved_at = models.DateTimeField()
    reason = models.TextField()

    def __str__(self) -> str:
        return f"{self.event.gauge} to {self.to_on:%Y-%m-%d}"


class CallIn(models.Model):
    """The laboratory asks for a gauge by a day; answered when the gauge is received, or withdrawn with a reason."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="call_ins")
    called_at = models.DateTimeField()
    called_by = models.CharField(max_length=150)
    bring_by = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    answered_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("-called_at",)
        constraints = (
            models.UniqueConstraint(
                fields=("gauge",),
                condition=models.Q(answered_at=None, withdrawn_at=None),
                name="call_in_open_once",
                violation_error_message="This gauge is already called in.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.gauge} by {self.bring_by:%Y-%m-%d}"


class UseCheck(models.Model):
    """The check before use of a gauge that wants one, on a day (append-only)."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="use_checks")
    checked_on = models.DateField()
    checked_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    good = models.BooleanField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = (models.Index(fields=("gauge", "-checked_on"), name="use_check_last"),)

    def __str__(self) -> str:
        return f"{self.gauge} {self.checked_on:%Y-%m-%d}"


class GaugeStanding(models.Model):
    """What the shop floor may do with a gauge: derived in one place, kept as one row so that the floor page reads one.

    Only ``valid_until < today`` (overdue), ``master_until < today`` (its setting master overdue) and "checked today"
    are decided when the row is read. ``valid_until`` is the gauge's own due date, by which it is called back;
    ``state`` and ``in_laboratory`` repeat what the word was derived from, so that planning asks one table at a
    million gauges.
    """

    class Word(models.TextChoices):
        USE = "use", "use"
        RESTRICTED = "restricted", "use with restriction"
        STOP = "stop", "do not use"

    gauge = models.OneToOneField(Gauge, models.CASCADE, primary_key=True, related_name="standing")
    rank = models.PositiveSmallIntegerField(help_text="place in the order of severity; 0 is the most severe")
    word = models.CharField(max_length=10, choices=Word.choices)
    reason = models.CharField(max_length=200)
    valid_until = models.DateField(null=True)
    master_until = models.DateField(null=True, help_text="the first due date among its setting masters")
    master_named = models.CharField(max_length=100, blank=True, default="", help_text="the one due then")
    restriction = models.CharField(max_length=300, blank=True)
    needs_check = models.BooleanField(default=False)
    checked_on = models.DateField(null=True)
    state = models.CharField(max_length=16, choices=GaugeState.State.choices)
    in_laboratory = models.BooleanField(default=False)
    derived_at = models.DateTimeField()

    class Meta:
        indexes = (models.Index(fields=("valid_until", "gauge"), name="standing_due"),)

    def __str__(self) -> str:
        return f"{self.gauge}: {self.get_word_display()}"
