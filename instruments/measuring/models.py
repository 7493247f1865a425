"""Tables of measuring. What was observed is append-only; what is decided about it stands in rows of its own."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models import Gauge
from instruments.procedures.models import Revision
from labsys.accounts.models import Person, Signature
from labsys.journal.rows import length_field
from labsys.laboratory.models import Agreement, Place
from standards.register.models import Calibration, ElementValue, Standard


class Session(models.Model):
    """One calibration of one gauge under one revision.

    ``basis`` is the frozen ground it is judged on: limits with their source, the rule, what was agreed.
    """

    class State(models.TextChoices):
        OPEN = "open", "open"
        SUBMITTED = "submitted", "submitted"
        RETURNED = "returned", "returned"
        APPROVED = "approved", "approved"
        VOID = "void", "void"

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="sessions")
    revision = models.ForeignKey(Revision, models.PROTECT, related_name="sessions")
    agreement = models.ForeignKey(Agreement, models.PROTECT, null=True, related_name="sessions")
    basis = models.TextField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN, db_index=True)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, models.PROTECT, related_name="sessions")
    received_at = models.DateTimeField()
    place = models.ForeignKey(Place, models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    void_reason = models.TextField(blank=True)

    class Meta:
        ordering = ("-opened_at",)
        constraints = (
            models.UniqueConstraint(
                fields=("gauge",),
                condition=models.Q(state__in=("open", "submitted", "returned")),
                name="session_one_under_way",
                violation_error_message="This gauge already has a session under way. Finish or void that one first.",
            ),
            models.CheckConstraint(
                condition=models.Q(received_at__lte=models.F("opened_at")),
                name="session_after_receipt",
                violation_error_message="A gauge is measured after it was received.",
            ),
        )

    def __str__(self) -> str:
        return f"session {self.pk} of {self.gauge}"


class Run(models.Model):
    """One pass over the points: as found or as left, first attempt or a later one."""

    class Stage(models.TextChoices):
        AS_FOUND = "as-found", "as found"
        AS_LEFT = "as-left", "as left"

    session = models.ForeignKey(Session, models.PROTECT, related_name="runs")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    attempt = models.PositiveSmallIntegerField(default=1)
    opened_at = models.DateTimeField()

    class Meta:
        ordering = ("session", "stage", "attempt")
        constraints = (
            models.UniqueConstraint(fields=("session", "stage", "attempt"), name="run_stage_attempt_unique"),
        )

    def __str__(self) -> str:
        return f"{self.session}, {self.get_stage_display()} {self.attempt}"


class Adjustment(models.Model):
    """What was done to the gauge between the stages (append-only)."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="adjustments")
    after_run = models.ForeignKey(Run, models.PROTECT, related_name="adjustments")
    what = models.TextField()
    parts = models.CharField(max_length=200, blank=True)
    seal = models.CharField(max_length=100, blank=True)
    firmware = models.CharField(max_length=60, blank=True)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"adjustment in {self.session}"


class RunStandard(models.Model):
    """A standard picked for a run, checked at that moment, with the calibration whose values are used (append-only)."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="standards")
    standard = models.ForeignKey(Standard, models.PROTECT, related_name="+")
    calibration = models.ForeignKey(Calibration, models.PROTECT, related_name="+")
    picked_at = models.DateTimeField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("run", "standard"), name="run_standard_once"),)

    def __str__(self) -> str:
        return f"{self.standard} in {self.run}"


class Point(models.Model):
    """One length, function and place on the faces. A void one is kept and taken again as the next attempt."""

    class Place(models.TextChoices):
        NEAR_BEAM = "near_beam", "near the beam"
        MIDDLE = "middle", "middle"
        TIPS = "tips", "tips"
        NONE = "", "no place"

    run = models.ForeignKey(Run, models.PROTECT, related_name="points")
    sequence = models.PositiveSmallIntegerField()
    attempt = models.PositiveSmallIntegerField(default=1)
    function = models.CharField(max_length=20)
    place = models.CharField(max_length=10, choices=Place.choices, blank=True, default=Place.NONE)
    nominal_mm = length_field()
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("run", "sequence", "attempt")
        constraints = (
            models.UniqueConstraint(
                fields=("run", "sequence", "attempt"), name="point_sequence_attempt_unique"
            ),
        )

    def __str__(self) -> str:
        return f"{self.function} {self.nominal_mm.normalize():f} mm"


class PointVoid(models.Model):
    """A point that no longer counts, and why (append-only)."""

    point = models.OneToOneField(Point, models.PROTECT, related_name="void")
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.point} void"


class PointReference(models.Model):
    """What a point was compared with: the element's value used, how often, with its sensitivity (append-only)."""

    point = models.ForeignKey(Point, models.PROTECT, related_name="references")
    element_value = models.ForeignKey(ElementValue, models.PROTECT, related_name="+")
    nominal_mm = length_field()
    deviation_mm = length_field()
    count = models.PositiveSmallIntegerField(default=1)
    sensitivity = models.SmallIntegerField(default=-1)

    def __str__(self) -> str:
        return f"{self.element_value.element} in {self.point}"


class Arrival(models.Model):
    """An envelope exactly as it came, stored before anything judges it (append-only).

    The same client id with the same content is the same arrival; with other content both are kept and shown.
    """

    class Kind(models.TextChoices):
        READING = "reading", "reading"
        STRIKE = "strike", "strike"
        ANSWER = "answer", "answer"
        CONDITION = "condition", "condition"
        ZERO = "zero", "zero"

    client_id = models.CharField(max_length=64)
    sha256 = models.CharField(max_length=64)
    session = models.ForeignKey(Session, models.PROTECT, related_name="arrivals")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    format = models.PositiveSmallIntegerField(default=1)
    text = models.TextField()
    device = models.CharField(max_length=64, blank=True)
    n = models.PositiveIntegerField(null=True)
    entered_at = models.DateTimeField(null=True)
    received_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("client_id", "sha256"), name="arrival_once"),)

    def __str__(self) -> str:
        return f"{self.kind} {self.client_id}"


class SetAside(models.Model):
    """An arrival that could not become what it says it is, with the sentence why (append-only but for the answer)."""

    arrival = models.OneToOneField(Arrival, models.PROTECT, related_name="set_aside")
    code = models.CharField(max_length=60)
    sentence = models.TextField()
    at = models.DateTimeField()
    resolved_at = models.DateTimeField(null=True)
    resolved_by = models.CharField(max_length=150, null=True)
    resolution = models.CharField(max_length=200, null=True)

    def __str__(self) -> str:
        return f"{self.arrival}: {self.code}"


class Reading(models.Model):
    """A single observation: as typed with its unit, and as exact millimetres (append-only)."""

    class Source(models.TextChoices):
        TYPED = "typed", "typed"
        CABLE = "cable", "cable"
        IMPORT = "import", "import"

    arrival = models.OneToOneField(Arrival, models.PROTECT, related_name="reading")
    point = models.ForeignKey(Point, models.PROTECT, related_name="readings")
    raw = models.CharField(max_length=60)
    unit = models.CharField(max_length=3)
    value = length_field()
    value_mm = length_field()
    measured_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    received_at = models.DateTimeField()
    read_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    device = models.CharField(max_length=64, blank=True)
    offline = models.BooleanField(default=False)
    source = models.CharField(max_length=6, choices=Source.choices, default=Source.TYPED)

    class Meta:
        ordering = ("point", "measured_at", "pk")

    def __str__(self) -> str:
        return f"{self.raw} {self.unit}"


class Strike(models.Model):
    """A reading that no longer counts: kept, visible, with its reason; out of tolerance only by the reviewer."""

    class Reason(models.TextChoices):
        TYPING = "typing", "typed wrongly"
        SEATING = "seating", "not seated or rocking"
        DIRT = "dirt", "dirt on the faces"
        WRONG_POINT = "wrong-point", "taken at the wrong point"
        KEY_BOUNCE = "key-bounce", "sent twice by the key or cable"

    reading = models.OneToOneField(Reading, models.PROTECT, related_name="strike")
    arrival = models.OneToOneField(Arrival, models.PROTECT, null=True, related_name="strike_made")
    reason = models.CharField(max_length=12, choices=Reason.choices)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.reading} struck: {self.get_reason_display()}"


class ZeroCheck(models.Model):
    """The reading of the closed faces: as found, after setting, at the end (append-only)."""

    class Kind(models.TextChoices):
        AS_FOUND = "as-found", "as found, before setting"
        SET = "set", "set"
        CLOSING = "closing", "closing check"

    run = models.ForeignKey(Run, models.PROTECT, related_name="zero_checks")
    arrival = models.OneToOneField(Arrival, models.PROTECT, related_name="zero_check")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    raw = models.CharField(max_length=60)
    unit = models.CharField(max_length=3)
    value_mm = length_field()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("run", "at", "pk")

    def __str__(self) -> str:
        return f"zero {self.get_kind_display()} {self.raw}"


class Check(models.Model):
    """The answer to a look or a functional check of the procedure (append-only; the last answer counts)."""

    class Answer(models.TextChoices):
        GOOD = "good", "good"
        NOT_GOOD = "not-good", "not good"
        NOT_APPLICABLE = "not-applicable", "does not apply"

    run = models.ForeignKey(Run, models.PROTECT, related_name="checks")
    arrival = models.OneToOneField(Arrival, models.PROTECT, related_name="check_made")
    code = models.CharField(max_length=40)
    answer = models.CharField(max_length=15, choices=Answer.choices)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("run", "at", "pk")

    def __str__(self) -> str:
        return f"{self.code}: {self.get_answer_display()}"


class Condition(models.Model):
    """The room at a moment of a run: temperature, humidity, which sensor (append-only)."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="conditions")
    arrival = models.OneToOneField(Arrival, models.PROTECT, related_name="condition")
    temperature_c = models.DecimalField(max_digits=5, decimal_places=2)
    standard_temperature_c = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    humidity_percent = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    sensor = models.ForeignKey(Standard, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ("run", "at", "pk")

    def __str__(self) -> str:
        return f"{self.temperature_c} °C"


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
        constraints = (models.UniqueConstraint(fields=("session", "rule"), name="deviation_once"),)

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

    ``budget`` and ``decision`` hold both views of the uncertainty and every figure of the verdict as canonical JSON.
    """

    class Kind(models.TextChoices):
        ERROR = "error", "error of indication"

    submission = models.ForeignKey(Submission, models.PROTECT, related_name="results")
    run = models.ForeignKey(Run, models.PROTECT, related_name="results")
    points = models.ManyToManyField(Point, related_name="results")
    reading = models.ForeignKey(Reading, models.PROTECT, related_name="+", null=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    function = models.CharField(max_length=20)
    value_mm = length_field()
    U_mm = length_field(help_text="calibration uncertainty, expanded: what the certificate reports")
    U_test_mm = length_field(help_text="test-value uncertainty, expanded")
    k = models.DecimalField(max_digits=6, decimal_places=3)
    lower_mm = length_field(null=True)
    upper_mm = length_field(null=True)
    within_limits = models.BooleanField()
    verdict = models.CharField(max_length=20)
    budget = models.TextField()
    decision = models.TextField()
    evaluated_at = models.DateTimeField()

    class Meta:
        ordering = ("submission", "pk")

    def __str__(self) -> str:
        return f"{self.function}: {self.value_mm}"


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
