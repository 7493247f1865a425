"""Addresses for programs: what may be done with gauges today, many at once or one by its tag."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers

from instruments.inventory.models import Gauge
from instruments.recall.filters import StandingFilter
from instruments.recall.queries import read, with_standing
from labsys.api.fields import ChosenFields
from labsys.api.views import ReadList, ReadOne
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import called, local_date


class GaugeStandingSerializer(ChosenFields):
    """What may be done with one gauge today: the same answer as page, label and floor."""

    tag = serializers.CharField(source="tag.text")
    word = serializers.CharField(help_text="use, restricted or stop")
    label = serializers.CharField(help_text="the word as people read it")  # type: ignore[assignment]
    reason = serializers.CharField()
    valid_until = serializers.DateField(
        allow_null=True,
        help_text="through the end of that day; its setting master's due date if that is first",
    )
    due_on = serializers.DateField(allow_null=True, help_text="the gauge's own due date")
    restriction = serializers.CharField()
    needs_check = serializers.BooleanField(help_text="usable only on days with a recorded check")
    in_laboratory = serializers.BooleanField()

    def to_representation(self, gauge: Any) -> dict[str, Any]:
        """Read the gauge's kept row for today."""
        row = getattr(gauge, "standing", None)
        answer = read(row, local_date(timezone.now()))
        said = {**vars(answer), "tag": gauge.tag, "in_laboratory": bool(row and row.in_laboratory)}
        return super().to_representation(said)


def _gauges() -> QuerySet[Gauge]:
    rows = Gauge.objects.select_related("tag", "standing")
    return with_standing(rows, local_date(timezone.now()))


@extend_schema(operation_id="standings", summary="What may be done with gauges today")
class StandingList(ReadList):
    """Today's standing of gauges, by tag."""

    permission = READ_RECORDS
    serializer_class = GaugeStandingSerializer
    filterset_class = StandingFilter
    default_order = "tag"
    orders: ClassVar = {"tag": ("tag__text", "pk")}

    def get_queryset(self) -> QuerySet[Gauge]:
        """Give all gauges with today's word."""
        return _gauges()


@extend_schema(operation_id="standing", summary="What may be done with one gauge today")
class StandingOne(ReadOne):
    """Today's standing of one gauge by its tag."""

    permission = READ_RECORDS
    serializer_class = GaugeStandingSerializer
    queryset = Gauge.objects.none()
    lookup_url_kwarg = "tag"

    def get_object(self) -> Any:
        """Find the gauge that carries the tag, whatever its capitals; raises Http404."""
        return get_object_or_404(called(_gauges(), self.kwargs["tag"]))
