"""Tables of what was observed: what arrived as it came, and what became of it. Append-only."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from instruments.measuring.models.sessions import Point, Run, Session
from labsys.accounts.models import Person
from labsys.journal.rows import length_field
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.units import Quantity, Unit
from standards.register.models import Standard


class Arrival(models.Model):
    """An envelope exactly as it came, stored before anything judges it (append-only).

    The same client id with the same content is the same arrival; with other content both are kept and shown. ``n``
    counts what a device typed in a session, from 1. ``entered_at`` is corrected by ``clock_off_s``, the seconds by
    which the device's clock was seen to be ahead.
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
    clock_off_s = models.IntegerField(default=0)
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
    """A single observation: as typed with its unit, and as exact millimetres or arc seconds (append-only)."""

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
        return as_read(self.raw, self.unit, self.value_mm)


def as_read(raw: str, unit: str, value_mm: Decimal) -> str:
    """Write a reading as it was typed, with its unit; an angle, which can be typed many ways, as 45° 05′."""
    is_angle = bool(unit) and Unit(unit).quantity is Quantity.ANGLE
    return angle_text(value_mm, Unit(unit)) if is_angle else f"{raw} {unit}"


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

    @property
    def shown(self) -> str:
        """What was read, with its unit."""
        return as_read(self.raw, self.unit, self.value_mm)


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
