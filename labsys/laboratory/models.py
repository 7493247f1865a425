"""Tables of the laboratory: who its customers are, where things stand, what was agreed, how much it can do."""

from __future__ import annotations

import secrets

from django.db import models
from django.db.models.functions import Lower

from labsys.journal.rows import DatedRow
from labsys.metrology.units import Quantity


def opaque_code() -> str:
    """Draw 128 random bits as 32 hexadecimal digits: what a label's code carries, and nothing else."""
    return secrets.token_hex(16)


class MeasuringFunction(models.TextChoices):
    """One way of measuring with a gauge; elements serve it, limits, points and verdicts speak of it."""

    OUTSIDE = "outside", "outside"
    INSIDE = "inside", "inside"
    DEPTH = "depth", "depth"
    STEP = "step", "step"
    SMALL_BORE = "small_bore", "small bore"
    HEIGHT = "height", "height"
    TRAVEL = "travel", "travel"
    SIZE = "size", "size"
    GO = "go", "GO size"
    NO_GO = "no_go", "NO-GO size"
    PITCH_DIAMETER = "pitch_diameter", "pitch diameter"
    THICKNESS = "thickness", "thickness"
    RADIUS = "radius", "radius"
    FLATNESS = "flatness", "flatness"
    PARALLELISM = "parallelism", "parallelism"
    ANGLE = "angle", "angle"


CHARACTERISTICS: dict[str, str] = {
    **{function.value: str(function.label) for function in MeasuringFunction},
    "span_up": "error span, going up",
    "span": "error span, both directions",
    "section": "error span over a short section",
    "hysteresis": "hysteresis",
    "repeatability": "repeatability",
    "centring": "centring",
    "variation": "variation of length",
    "roundness": "out of round",
    "taper": "taper",
    "fit": "fit",
}
"""What limits speak of, with the words people read: the error of every measuring function, and what several readings
say together."""


class Department(models.Model):
    """A part of the plant that owns gauges; in an in-house laboratory it is the customer."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=80, unique=True)
    contact = models.CharField(max_length=120, blank=True, help_text="whom to ask, by role")

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class Place(models.Model):
    """Where a gauge belongs or work is done: a machine group, a cabinet, the laboratory itself."""

    name = models.CharField(max_length=80, unique=True)
    department = models.ForeignKey(Department, models.PROTECT, null=True, blank=True, related_name="places")
    is_laboratory = models.BooleanField(default=False)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class Family(models.Model):
    """A family of gauges: caliper, outside micrometer … What procedures, authorisations and agreements speak of."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80, unique=True)
    bench_hours = models.DecimalField(
        max_digits=5, decimal_places=2, help_text="planned hours for one calibration"
    )
    default_interval_months = models.PositiveSmallIntegerField(default=12)
    quantity = models.CharField(
        max_length=8, choices=[(one.value, one.value) for one in Quantity], default=Quantity.LENGTH.value
    )

    class Meta:
        ordering = ("name",)
        verbose_name_plural = "families"

    def __str__(self) -> str:
        return self.name


class Tag(models.Model):
    """The identity of a gauge or a standard for its whole life: the text people read, the code a label carries.

    Gauges and standards share one namespace, so that a scanned or typed tag means one thing only.
    """

    text = models.CharField(max_length=40)
    code = models.CharField(max_length=32, unique=True, default=opaque_code)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("text",)
        # Lists are sorted by the text as it reads; the unique one below keeps it without its capitals.
        indexes = (models.Index(fields=("text",), name="tag_text_sorted"),)
        constraints = (
            models.UniqueConstraint(
                Lower("text"),
                name="tag_text_unique",
                violation_error_message="This tag is taken. A tag stays with one item for life; choose another.",
            ),
        )

    def __str__(self) -> str:
        return self.text


class LaboratoryDetail(DatedRow):
    """What the laboratory calls itself on documents, and whether a second person must sign, from an instant on."""

    name = models.CharField(max_length=120)
    address = models.TextField()
    contact = models.CharField(max_length=200)
    second_signature = models.BooleanField(
        default=True,
        help_text="off only by a recorded decision with its reason; every certificate then says so",
    )
    decided_by = models.CharField(max_length=150, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(second_signature=True) | ~models.Q(reason=""),
                name="laboratory_one_signature_has_reason",
                violation_error_message="Working with one signature is a decision: give its reason.",
            ),
        )

    def __str__(self) -> str:
        return self.name


class Agreement(DatedRow):
    """What a department settled beforehand for a family of its gauges; a withdrawal is a row too."""

    department = models.ForeignKey(Department, models.PROTECT, related_name="agreements")
    family = models.ForeignKey(Family, models.PROTECT, related_name="agreements")
    limits_source = models.CharField(
        max_length=200, blank=True, help_text="the specification, with its clause"
    )
    limit_rows = models.JSONField(
        null=True,
        blank=True,
        help_text="own limits by function and length; empty: the gauge's own limits hold",
    )
    limits_confirmed = models.BooleanField(default=False)
    rule = models.JSONField(help_text="the decision rule with its parameters")
    adjustment_allowed = models.BooleanField(default=False)
    due_date_printed = models.BooleanField(default=False)
    recipients = models.JSONField(default=list, help_text="addresses that get certificates and notices")
    agreed_by = models.CharField(max_length=150)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        indexes = (models.Index(fields=("department", "family", "-valid_from"), name="agreement_in_force"),)

    def __str__(self) -> str:
        return f"{self.department} · {self.family}"


class Capacity(DatedRow):
    """How many bench hours a working week has, from an instant on."""

    hours_per_week = models.DecimalField(max_digits=5, decimal_places=1)

    class Meta:
        verbose_name_plural = "capacities"
        constraints = (
            models.CheckConstraint(condition=models.Q(hours_per_week__gte=0), name="capacity_not_negative"),
        )

    def __str__(self) -> str:
        return f"{self.hours_per_week} h a week"
