"""Tables of traceability."""

from __future__ import annotations

from django.db import models

from labsys.accounts.models import Person, Signature
from labsys.journal.rows import DatedRow, length_field
from standards.register.models import Calibration


class Issuer(models.Model):
    """Who issues certificates for our standards."""

    class Kind(models.TextChoices):
        INSTITUTE = "institute", "national metrology institute"
        ACCREDITED = "accredited", "accredited laboratory"
        MAKER = "maker", "maker without accreditation"
        IN_HOUSE = "in-house", "this laboratory"

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    country = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class Accreditation(DatedRow):
    """What an issuer is recognised for, from an instant on: a scope line, or an institute's published capability."""

    issuer = models.ForeignKey(Issuer, models.PROTECT, related_name="accreditations")
    body = models.CharField(
        max_length=120, help_text="accreditation body, or the arrangement that lists the service"
    )
    number = models.CharField(max_length=60)
    quantity = models.CharField(max_length=60, help_text="what the service measures, such as gauge-block")
    range_low_mm = length_field()
    range_high_mm = length_field()
    cmc_constant_mm = length_field(help_text="smallest U: constant part")
    cmc_per_length = models.DecimalField(
        max_digits=12, decimal_places=9, help_text="smallest U: share of length"
    )
    lapses_on = models.DateField(null=True, blank=True)
    withdrawn = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"{self.issuer}: {self.quantity} {self.number}"


class CertificateReceived(models.Model):
    """A certificate for one of our standards, as it came."""

    class Route(models.TextChoices):
        INSTITUTE = "1", "1: institute, service in the mutual recognition arrangement"
        ACCREDITED = "2", "2: accredited laboratory, service in its scope"
        INSTITUTE_OUTSIDE = "3a", "3a: institute, service outside the arrangement"
        LABORATORY_OUTSIDE = "3b", "3b: laboratory outside the arrangement"
        IN_HOUSE = "in-house", "in the house, on its own chain"

    calibration = models.OneToOneField(Calibration, models.PROTECT, related_name="certificate")
    issuer = models.ForeignKey(Issuer, models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=80)
    issued_on = models.DateField()
    quantity = models.CharField(max_length=60)
    route = models.CharField(max_length=10, choices=Route.choices)
    serial_on_certificate = models.CharField(max_length=80)
    conditions = models.CharField(max_length=200, blank=True)
    accreditation_mark = models.BooleanField(default=False)
    stated_traceability = models.TextField(blank=True, help_text="what the certificate says of its own chain")
    file = models.FileField(upload_to="certificates-received/", blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    received_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("issuer", "number"),
                name="certificate_received_once",
                violation_error_message="A certificate of this issuer with this number is already on file.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.issuer} {self.number}"


class CertificateReview(models.Model):
    """Somebody read a certificate on receipt and accepted or rejected it (append-only)."""

    class Decision(models.TextChoices):
        ACCEPT = "accept", "accepted"
        REJECT = "reject", "rejected"

    certificate = models.OneToOneField(CertificateReceived, models.PROTECT, related_name="review")
    decision = models.CharField(max_length=6, choices=Decision.choices)
    answers = models.JSONField(
        help_text="identity, points, values, uncertainty, traceability, conditions, signature"
    )
    reason = models.TextField(blank=True)
    reviewer = models.ForeignKey(Person, models.PROTECT, related_name="certificate_reviews")
    reviewed_at = models.DateTimeField()
    signature = models.ForeignKey(Signature, models.PROTECT, related_name="+", null=True)

    def __str__(self) -> str:
        return f"{self.certificate} {self.get_decision_display()}"


class Reliance(models.Model):
    """A calibration relies on another: the link of the chain (append-only)."""

    calibration = models.ForeignKey(Calibration, models.PROTECT, related_name="relies_on")
    upstream = models.ForeignKey(Calibration, models.PROTECT, related_name="relied_on_by")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("calibration", "upstream"), name="reliance_once"),
            models.CheckConstraint(
                condition=~models.Q(calibration=models.F("upstream")),
                name="reliance_not_on_itself",
                violation_error_message="A calibration can't rely on itself.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.calibration} on {self.upstream}"
