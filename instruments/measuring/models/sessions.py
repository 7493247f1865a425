"""Tables of the work as laid out: sessions, their runs, what stands between these, points and their references."""

from __future__ import annotations

from django.db import models

from instruments.inventory.models import Gauge, Member
from instruments.measuring.models.sittings import Sitting
from instruments.procedures.models import Revision
from labsys.accounts.models import Person
from labsys.journal.rows import length_field
from labsys.laboratory.models import Agreement, Place
from labsys.pages.figures import said_size
from standards.register.models import Calibration, ElementValue, Standard


class Session(models.Model):
    """One calibration of one gauge under one revision, opened by itself or in a sitting with others.

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
    sitting = models.ForeignKey(Sitting, models.PROTECT, null=True, related_name="sessions")
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
    """One length or member, function or series, place and direction. A void one is kept and taken again.

    ``function`` is a measuring function, or the code of a series of the procedure.
    """

    class Direction(models.TextChoices):
        UP = "up", "going up"
        DOWN = "down", "coming down"
        NONE = "", "no direction"

    run = models.ForeignKey(Run, models.PROTECT, related_name="points")
    sequence = models.PositiveSmallIntegerField()
    attempt = models.PositiveSmallIntegerField(default=1)
    function = models.CharField(max_length=20)
    place = models.CharField(max_length=24, blank=True, default="")
    direction = models.CharField(max_length=4, choices=Direction.choices, blank=True, default=Direction.NONE)
    member = models.ForeignKey(Member, models.PROTECT, null=True, related_name="points")
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
        return self.said_in(self.run.session.gauge.model.unit)

    def said_in(self, unit: str) -> str:
        """Name it for a gauge that shows ``unit``: outside 41.3 mm, in millimetres whatever the unit; angle 45° 05′."""
        return f"{self.function.replace('_', ' ')} {said_size(self.nominal_mm, unit)}"


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
