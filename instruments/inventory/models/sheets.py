"""The table of sheets of gauges, from the file to its end."""

from __future__ import annotations

from django.db import models

from labsys.accounts.models import Person


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
