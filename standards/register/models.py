"""Tables of the register of standards."""

from __future__ import annotations

from django.db import models

from labsys.journal.rows import DatedRow, length_field
from labsys.laboratory.models import Place, Tag
from labsys.metrology.units import Quantity


class Standard(models.Model):
    """A reference standard: a set of gauge blocks, a check bar, a setting ring, a thermometer."""

    class Kind(models.TextChoices):
        BLOCK_SET = "block-set", "gauge block set"
        CHECK_BAR = "check-bar", "check bar"
        RING = "ring", "setting ring"
        PIN = "pin", "pin"
        TESTER = "tester", "indicator tester"
        OPTICAL_FLAT = "optical-flat", "optical flat or parallel"
        ROD = "rod", "setting rod"
        WIRES = "wires", "measuring wires"
        PLATE = "plate", "surface plate"
        MICROMETER = "micrometer", "micrometer or comparator"
        ANGLE_BLOCKS = "angle-blocks", "angle blocks"
        POLYGON = "polygon", "polygon"
        SINE_BAR = "sine-bar", "sine bar with its blocks"
        THERMOMETER = "thermometer", "thermometer"

    tag = models.OneToOneField(Tag, models.PROTECT, related_name="standard")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    name = models.CharField(max_length=120)
    maker = models.CharField(max_length=80, blank=True)
    model = models.CharField(max_length=80, blank=True)
    serial = models.CharField(max_length=80)
    grade = models.CharField(max_length=40, blank=True)
    place = models.ForeignKey(Place, models.PROTECT, related_name="standards")
    owner = models.CharField(max_length=80, blank=True, help_text="empty: the laboratory's own")
    expansion_per_k = models.DecimalField(max_digits=12, decimal_places=9, null=True, blank=True)
    expansion_half_width_per_k = models.DecimalField(max_digits=12, decimal_places=9, null=True, blank=True)
    interval_months = models.PositiveSmallIntegerField()
    wanted_u_constant_mm = length_field(
        null=True, blank=True, help_text="the largest U (k = 2) that its use allows: constant part"
    )
    wanted_u_per_length = models.DecimalField(
        max_digits=12, decimal_places=9, null=True, blank=True, help_text="the same: share of length"
    )
    registered_at = models.DateTimeField()

    class Meta:
        ordering = ("tag__text",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(interval_months__gte=1), name="standard_interval_positive"
            ),
        )

    def __str__(self) -> str:
        return f"{self.tag} {self.name}"

    @property
    def quantity(self) -> Quantity:
        """What its elements embody, by its kind: of an angle standard every ``_mm`` is in arc seconds."""
        return quantity_of(self.kind)


def quantity_of(kind: str) -> Quantity:
    """Say what standards of a kind embody."""
    return Quantity.ANGLE if kind in _OF_ANGLES else Quantity.LENGTH


_OF_ANGLES = (Standard.Kind.ANGLE_BLOCKS, Standard.Kind.POLYGON, Standard.Kind.SINE_BAR)


class StandardState(DatedRow):
    """The service state of a standard from an instant on."""

    class State(models.TextChoices):
        NEW = "new", "new and not accepted"
        IN_SERVICE = "in-service", "in service"
        AWAY = "away", "at outside laboratory"
        OUT_OF_SERVICE = "out-of-service", "out of service"
        SCRAPPED = "scrapped", "scrapped"

    standard = models.ForeignKey(Standard, models.PROTECT, related_name="states")
    state = models.CharField(max_length=16, choices=State.choices)

    def __str__(self) -> str:
        return f"{self.standard}: {self.get_state_display()}"


class Element(models.Model):
    """A member of a standard: the 25 mm block of a set, the 100 mm step of a bar. A ring has one.

    A ``continuous`` one serves every length up to its nominal: the spindle of an indicator tester, a length bench, and
    an optical flat, whose length does not enter at all. Of an angle standard the nominal is in arc seconds.
    """

    standard = models.ForeignKey(Standard, models.PROTECT, related_name="elements")
    label = models.CharField(max_length=40)
    nominal_mm = length_field()
    serial = models.CharField(max_length=80, blank=True)
    functions = models.JSONField(default=list, help_text="measuring functions it serves: outside, inside …")
    stackable = models.BooleanField(default=False)
    continuous = models.BooleanField(default=False)

    class Meta:
        ordering = ("standard", "nominal_mm")
        constraints = (
            models.UniqueConstraint(
                fields=("standard", "label"),
                name="element_label_unique",
                violation_error_message="This standard already has an element with that label.",
            ),
            models.CheckConstraint(condition=models.Q(nominal_mm__gt=0), name="element_nominal_positive"),
        )

    def __str__(self) -> str:
        return f"{self.standard.tag} {self.label}"


class ElementState(DatedRow):
    """Whether an element may be used, from an instant on; one without a row is in use.

    A worn or lost block leaves its set by such a row; the set goes on without it.
    """

    element = models.ForeignKey(Element, models.PROTECT, related_name="states")
    in_use = models.BooleanField()

    def __str__(self) -> str:
        return f"{self.element}: {'in use' if self.in_use else 'withdrawn'}"


class Calibration(models.Model):
    """The event that gave a standard's elements their values.

    ``accepted_at`` is written once, by the review on receipt; until then the values may not be used. ``evidence`` is
    a text reference to what stands behind one made in the house, such as ``session:812``; it is empty for one from
    outside, whose certificate points here.
    """

    standard = models.ForeignKey(Standard, models.PROTECT, related_name="calibrations")
    calibrated_on = models.DateField()
    due_on = models.DateField()
    recorded_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True)
    rejected_at = models.DateTimeField(null=True)
    evidence = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ("-calibrated_on", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(accepted_at=None) | models.Q(rejected_at=None),
                name="calibration_accepted_or_rejected",
                violation_error_message="A calibration is accepted or rejected, not both.",
            ),
            models.CheckConstraint(
                condition=models.Q(due_on__gt=models.F("calibrated_on")),
                name="calibration_due_after",
                violation_error_message="The due date must lie after the calibration.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.standard.tag} on {self.calibrated_on:%Y-%m-%d}"


class ElementValue(models.Model):
    """The deviation of an element that one calibration found, with its uncertainty (append-only)."""

    class Basis(models.TextChoices):
        CALIBRATED = "calibrated", "calibrated value"
        GRADE_LIMIT = "grade-limit", "grade limit"

    calibration = models.ForeignKey(Calibration, models.PROTECT, related_name="values")
    element = models.ForeignKey(Element, models.PROTECT, related_name="values")
    deviation_mm = length_field()
    U_mm = length_field(null=True)
    k = models.DecimalField(max_digits=6, decimal_places=3, null=True)
    degrees_of_freedom = models.PositiveIntegerField(null=True, help_text="empty: infinite")
    basis = models.CharField(max_length=12, choices=Basis.choices, default=Basis.CALIBRATED)
    limit_mm = length_field(null=True)

    class Meta:
        ordering = ("element",)
        constraints = (
            models.UniqueConstraint(fields=("calibration", "element"), name="element_value_once"),
            models.CheckConstraint(
                condition=models.Q(basis="calibrated", U_mm__gt=0, k__gt=0)
                | models.Q(basis="grade-limit", limit_mm__gt=0),
                name="element_value_has_uncertainty",
                violation_error_message="A calibrated value needs U and k; a grade limit needs the limit.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.element}: {self.deviation_mm}"
