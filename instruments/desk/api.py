"""Addresses for programs: gauges, listed and by tag, with the same filters and the same answers as the pages."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers

from instruments.desk.filters import ListFilter
from instruments.desk.queries import shown, standing_of, with_due_key
from instruments.inventory.models import Gauge
from instruments.inventory.queries import limits_for, received_at, whereabouts
from instruments.inventory.queries.limits import plain
from labsys.api.fields import ChosenFields
from labsys.api.views import ReadList, ReadOne
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import called, local_date


class StandingSerializer(serializers.Serializer[Any]):
    """What the shop floor may do with a gauge today."""

    word = serializers.CharField(help_text="use, restricted or stop")
    label = serializers.CharField(help_text="the word as people read it")  # type: ignore[assignment]
    reason = serializers.CharField()
    valid_until = serializers.DateField(allow_null=True, help_text="through the end of that day")
    restriction = serializers.CharField()
    needs_check = serializers.BooleanField(help_text="usable only on days with a recorded check")


class ModelSerializer(serializers.Serializer[Any]):
    """What a gauge is as made."""

    id = serializers.IntegerField()
    maker = serializers.CharField()
    designation = serializers.CharField()
    family = serializers.CharField(source="family.code")
    indication = serializers.CharField()
    unit = serializers.CharField(help_text="the unit shown")
    resolution = serializers.SerializerMethodField(help_text="one step in that unit, a decimal as text")
    range_low_mm = serializers.SerializerMethodField()
    range_high_mm = serializers.SerializerMethodField()

    def get_resolution(self, model: Any) -> str:
        """Write the step without zeros that say nothing."""
        return plain(model.resolution)

    def get_range_low_mm(self, model: Any) -> str:
        """Write where the range begins."""
        return plain(model.range_low_mm)

    def get_range_high_mm(self, model: Any) -> str:
        """Write where the range ends."""
        return plain(model.range_high_mm)


class GaugeSerializer(ChosenFields):
    """A gauge as the list shows it."""

    id = serializers.IntegerField()
    tag = serializers.CharField(source="tag.text")
    standing = serializers.SerializerMethodField()
    state = serializers.CharField(source="state_now")
    model = ModelSerializer()
    serial = serializers.CharField()
    department = serializers.CharField(source="department.code")
    place = serializers.CharField(source="place.name")
    custodian = serializers.CharField(source="custodian.username", default="")
    owner = serializers.CharField()
    owner_name = serializers.CharField()
    functions = serializers.ListField(child=serializers.CharField())
    calibration_needed = serializers.BooleanField()
    no_calibration_reason = serializers.CharField()
    check_before_use = serializers.BooleanField()
    registered_at = serializers.DateTimeField()

    @extend_schema_field(StandingSerializer)
    def get_standing(self, gauge: Gauge) -> dict[str, Any]:
        """Give the same answer as page, label and floor."""
        return StandingSerializer(standing_of(gauge, local_date(timezone.now()))).data


class LimitRowSerializer(serializers.Serializer[Any]):
    """A line of limits; decimals as text, null where a side has no limit."""

    function = serializers.CharField()
    up_to_mm = serializers.CharField()
    lower_mm = serializers.CharField(allow_null=True)
    upper_mm = serializers.CharField(allow_null=True)


class LimitsSerializer(serializers.Serializer[Any]):
    """The limits in force."""

    rows = LimitRowSerializer(many=True)
    source = serializers.CharField()  # type: ignore[assignment]  # a field of this name is meant
    confirmed = serializers.BooleanField(help_text="compared with the laboratory's own copy of the source")
    own = serializers.BooleanField(help_text="this gauge's own instead of its model's")
    valid_from = serializers.DateTimeField()
    unit = serializers.CharField(
        help_text="of every number whose name ends in _mm: mm, or ″ where angles are measured"
    )


class StepSerializer(serializers.Serializer[Any]):
    """A step of a gauge's way."""

    kind = serializers.CharField()
    at = serializers.DateTimeField()
    place = serializers.CharField(source="place.name", default="")
    waits_for = serializers.CharField()


class GaugeDetailSerializer(GaugeSerializer):
    """A gauge with its limits and where it is."""

    note = serializers.CharField()
    limits = serializers.SerializerMethodField()
    whereabouts = serializers.SerializerMethodField()
    in_laboratory_since = serializers.SerializerMethodField()

    @extend_schema_field(LimitsSerializer(allow_null=True))
    def get_limits(self, gauge: Gauge) -> dict[str, Any] | None:
        """Give the limits in force, null where none are set."""
        found = limits_for(gauge, timezone.now())
        unit = gauge.model.quantity.base.value
        return None if found is None else LimitsSerializer({**vars(found), "unit": unit}).data

    @extend_schema_field(StepSerializer(allow_null=True))
    def get_whereabouts(self, gauge: Gauge) -> dict[str, Any] | None:
        """Give the last step of its way, null where none is on record."""
        found = whereabouts(gauge)
        return None if found is None else StepSerializer(found).data

    @extend_schema_field(serializers.DateTimeField(allow_null=True))
    def get_in_laboratory_since(self, gauge: Gauge) -> str | None:
        """Give when the laboratory received it, null where it isn't there."""
        since = received_at(gauge)
        return None if since is None else since.isoformat()


@extend_schema(operation_id="gauges", summary="List gauges")
class GaugeList(ReadList):
    """Gauges, filtered as on the page of gauges."""

    permission = READ_RECORDS
    serializer_class = GaugeSerializer
    filterset_class = ListFilter
    default_order = "tag"
    orders: ClassVar = {
        "tag": ("tag__text", "pk"),
        "due": ("due_key", "pk"),
        "registered": ("registered_at", "pk"),
        "serial": ("serial", "pk"),
    }

    def get_queryset(self) -> QuerySet[Gauge]:
        """Give all gauges, with the last day of use where they are ordered by it."""
        order = self.request.query_params.get("order", "") if self.request else ""
        return with_due_key(Gauge.objects.all()) if order.removeprefix("-") == "due" else Gauge.objects.all()

    def paginate_queryset(self, queryset: Any) -> Any:
        """Cut the page, and read the rest of what it shows."""
        return shown(super().paginate_queryset(queryset) or [], timezone.now())


@extend_schema(operation_id="gauge", summary="One gauge")
class GaugeDetail(ReadOne):
    """One gauge by its tag, with limits and whereabouts."""

    permission = READ_RECORDS
    serializer_class = GaugeDetailSerializer
    queryset = Gauge.objects.none()
    lookup_url_kwarg = "tag"

    def get_object(self) -> Gauge:
        """Find the gauge that carries the tag, whatever its capitals; raises Http404."""
        found = shown(called(Gauge.objects.only("pk"), self.kwargs["tag"]), timezone.now())
        if not found:
            raise Http404
        return found[0]
