"""Tables of the inventory."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from labsys.accounts.models import Person
from labsys.journal.rows import DatedRow, length_field
from labsys.laboratory.models import Department, Family, Place, Tag
from labsys.metrology.units import Unit as LengthUnit
from labsys.metrology.units import to_mm


class Unit(models.TextChoices):
    """The unit a gauge shows."""

    MM = "mm", "mm"
    INCH = "in", "in"


class GaugeModel(models.Model):
    """A family member as made: range, resolution, unit, measuring functions."""

    class Indication(models.TextChoices):
        DIGITAL = "digital", "digital"
        DIAL = "dial", "dial"
        VERNIER = "vernier", "vernier"
        NONE = "none", "fixed gauge"

    class InsideJaws(models.TextChoices):
        KNIFE_EDGES = "knife-edges", "crossed knife-edges"
        NIBS = "nibs", "rounded nibs"
        NONE = "none", "none"

    family = models.ForeignKey(Family, models.PROTECT, related_name="models")
    maker = models.CharField(max_length=80)
    designation = models.CharField(max_length=80)
    indication = models.CharField(max_length=8, choices=Indication.choices)
    unit = models.CharField(max_length=3, choices=Unit.choices)
    resolution = length_field(help_text="one step, in the unit shown")
    range_low_mm = length_field(default=0)
    range_high_mm = length_field()
    scale_period_mm = length_field(null=True, blank=True)
    functions = models.JSONField(default=list)
    inside_jaws = models.CharField(max_length=12, choices=InsideJaws.choices, default=InsideJaws.NONE)
    expansion_per_k = models.DecimalField(max_digits=12, decimal_places=9, default="0.0000115")

    class Meta:
        ordering = ("maker", "designation")
        constraints = (
            models.UniqueConstraint(
                fields=("maker", "designation"),
                name="model_unique",
                violation_error_message="A model of this maker with this designation exists.",
            ),
            models.CheckConstraint(condition=models.Q(resolution__gt=0), name="model_resolution_positive"),
            models.CheckConstraint(
                condition=models.Q(range_high_mm__gt=models.F("range_low_mm")), name="model_range_rises"
            ),
        )

    def __str__(self) -> str:
        return f"{self.maker} {self.designation}"

    @property
    def step_mm(self) -> Decimal:
        """One step of the display or scale, in mm."""
        return to_mm(self.resolution, LengthUnit(self.unit))


class Gauge(models.Model):
    """Any measuring instrument or fixed gauge in the laboratory's care. Its tag stays for life."""

    class Owner(models.TextChoices):
        OWN = "own", "own"
        EMPLOYEE = "employee", "employee"
        CUSTOMER = "customer", "customer"
        SUPPLIER = "supplier", "supplier"
        BORROWED = "borrowed", "borrowed"

    tag = models.OneToOneField(Tag, models.PROTECT, related_name="gauge")
    model = models.ForeignKey(GaugeModel, models.PROTECT, related_name="gauges")
    serial = models.CharField(max_length=80)
    department = models.ForeignKey(Department, models.PROTECT, related_name="gauges")
    custodian = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="gauges")
    place = models.ForeignKey(Place, models.PROTECT, related_name="gauges", help_text="where it belongs")
    owner = models.CharField(max_length=10, choices=Owner.choices, default=Owner.OWN)
    owner_name = models.CharField(max_length=120, blank=True)
    functions = models.JSONField(default=list, help_text="the measuring functions this one has")
    calibration_needed = models.BooleanField(default=True)
    no_calibration_reason = models.CharField(max_length=300, blank=True)
    check_before_use = models.BooleanField(default=False)
    photo = models.ImageField(upload_to="gauges/", blank=True)
    note = models.TextField(blank=True)
    registered_at = models.DateTimeField()

    class Meta:
        ordering = ("tag__text",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(calibration_needed=True) | ~models.Q(no_calibration_reason=""),
                name="gauge_no_calibration_has_reason",
                violation_error_message="A gauge without calibration needs the reason why.",
            ),
            models.CheckConstraint(
                condition=models.Q(owner="own") | ~models.Q(owner_name=""),
                name="gauge_foreign_owner_named",
                violation_error_message="Name the owner of a gauge that isn't the plant's own.",
            ),
        )

    def __str__(self) -> str:
        return self.tag.text


class LimitSet(DatedRow):
    """The limits of error of a model, or of one gauge, from an instant on, with their source."""

    model = models.ForeignKey(GaugeModel, models.PROTECT, null=True, blank=True, related_name="limit_sets")
    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, blank=True, related_name="limit_sets")
    source = models.CharField(max_length=200)
    confirmed = models.BooleanField(default=False)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(model=None, gauge__isnull=False)
                | models.Q(gauge=None, model__isnull=False),
                name="limit_set_of_one",
                violation_error_message="Limits belong to a model or to one gauge.",
            ),
        )

    def __str__(self) -> str:
        return self.source


class LimitRow(models.Model):
    """One line of a limit set: up to a length, for a function, lower and upper limit; either may be missing."""

    limit_set = models.ForeignKey(LimitSet, models.PROTECT, related_name="rows")
    function = models.CharField(max_length=20)
    up_to_mm = length_field()
    lower_mm = length_field(null=True, blank=True)
    upper_mm = length_field(null=True, blank=True)

    class Meta:
        ordering = ("function", "up_to_mm")
        constraints = (
            models.UniqueConstraint(fields=("limit_set", "function", "up_to_mm"), name="limit_row_once"),
            models.CheckConstraint(
                condition=models.Q(lower_mm__isnull=False) | models.Q(upper_mm__isnull=False),
                name="limit_row_has_limit",
            ),
            models.CheckConstraint(
                condition=models.Q(lower_mm=None)
                | models.Q(upper_mm=None)
                | models.Q(upper_mm__gt=models.F("lower_mm")),
                name="limit_row_ordered",
                violation_error_message="The upper limit must lie above the lower one.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.function} to {self.up_to_mm}"


class GaugeState(DatedRow):
    """The service state of a gauge from an instant on."""

    class State(models.TextChoices):
        NEW = "new", "new and not accepted"
        IN_SERVICE = "in-service", "in service"
        STORED = "stored", "stored"
        AWAY = "away", "at outside laboratory"
        ON_LOAN = "on-loan", "on loan"
        OUT_OF_SERVICE = "out-of-service", "out of service"
        LOST = "lost", "lost"
        SCRAPPED = "scrapped", "scrapped"

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="states")
    state = models.CharField(max_length=16, choices=State.choices)

    class Meta:
        indexes = (
            models.Index(fields=("gauge", "-valid_from"), name="gauge_state_last"),
            models.Index(fields=("state", "gauge"), name="gauge_state_by_state"),
        )

    def __str__(self) -> str:
        return f"{self.gauge}: {self.get_state_display()}"


class CustodyEvent(models.Model):
    """A step of a gauge's way through the laboratory (append-only); the last one says where it is."""

    class Kind(models.TextChoices):
        CALLED_IN = "called-in", "called in"
        RECEIVED = "received", "received"
        CLEANED = "cleaned", "cleaned"
        SOAKING = "soaking", "soaking"
        ON_BENCH = "on-bench", "on the bench"
        WAITING = "waiting", "waiting"
        RELEASED = "released", "released"
        HANDED_OVER = "handed-over", "handed over"
        RETURNED = "returned", "returned"

    class WaitsFor(models.TextChoices):
        NOTHING = "", "nothing"
        PART = "part", "a part"
        STANDARD = "standard", "a standard"
        REVIEWER = "reviewer", "the reviewer"
        OWNER = "owner", "the owner"

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="custody")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    place = models.ForeignKey(Place, models.PROTECT, related_name="+", null=True, blank=True)
    condition = models.TextField(blank=True)
    damaged = models.BooleanField(default=False)
    waits_for = models.CharField(
        max_length=10, choices=WaitsFor.choices, blank=True, default=WaitsFor.NOTHING
    )

    class Meta:
        ordering = ("-at", "-pk")
        indexes = (models.Index(fields=("gauge", "-at"), name="custody_last"),)

    def __str__(self) -> str:
        return f"{self.gauge} {self.get_kind_display()}"


class Member(models.Model):
    """A piece of a set that is one gauge: a pin of a pin set. Verdicts of its own; withdrawn, not deleted."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="members")
    label = models.CharField(max_length=40)
    nominal_mm = length_field(null=True, blank=True)
    added_at = models.DateTimeField()
    withdrawn_on = models.DateField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("gauge", "nominal_mm", "label")
        constraints = (
            models.UniqueConstraint(
                fields=("gauge", "label"),
                name="member_label_unique",
                violation_error_message="This set already has a member with that label.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.gauge} {self.label}"


class Pairing(models.Model):
    """A gauge and the setting master that belongs to it; the master has a tag of its own."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="pairings")
    master = models.ForeignKey(Gauge, models.PROTECT, related_name="paired_with")
    paired_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("gauge", "master"), condition=models.Q(ended_at=None), name="pairing_open_once"
            ),
            models.CheckConstraint(condition=~models.Q(gauge=models.F("master")), name="pairing_of_two"),
        )

    def __str__(self) -> str:
        return f"{self.gauge} with {self.master}"


class GaugeImport(models.Model):
    """A sheet of gauges as read, kept between preview and confirmation, and afterwards as evidence of what came in."""

    uploaded_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    uploaded_at = models.DateTimeField()
    file_name = models.CharField(max_length=200)
    file_sha256 = models.CharField(max_length=64)
    columns = models.JSONField(help_text="the headings found, in their order")
    rows = models.JSONField(help_text="the cells as text, one list for each row of the sheet")
    reason = models.CharField(max_length=300, blank=True)
    confirmed_at = models.DateTimeField(null=True)
    discarded_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-uploaded_at", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(confirmed_at=None) | models.Q(discarded_at=None),
                name="gauge_import_one_end",
            ),
        )

    def __str__(self) -> str:
        return self.file_name
