"""Tables of what exists: models as made, and the gauges of them."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from labsys.accounts.models import Person
from labsys.journal.rows import length_field
from labsys.laboratory.models import Department, Family, Place, Tag
from labsys.metrology.units import Quantity, to_mm
from labsys.metrology.units import Unit as LengthUnit


class Unit(models.TextChoices):
    """The unit a gauge shows."""

    MM = "mm", "mm"
    INCH = "in", "in"
    DEGREE = "°", "° (degrees with decimals)"
    MINUTE = "′", "° ′ (degrees and minutes)"


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
    def quantity(self) -> Quantity:
        """What it measures, by the unit it shows."""
        return LengthUnit(self.unit).quantity

    @property
    def unit_of_sizes(self) -> str:
        """The unit that pages name its range in: millimetres whatever it shows, degrees (and minutes) of an angle."""
        return self.unit if self.quantity is Quantity.ANGLE else Unit.MM

    @property
    def step_mm(self) -> Decimal:
        """One step of the display or scale, in mm (an angle: arc seconds)."""
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
