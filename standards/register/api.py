"""Addresses for programs: the standards, one standard, and the values that were in force on any day."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from labsys.api.fields import ChosenFields
from labsys.api.views import Reading, ReadList, ReadOne
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from labsys.laboratory.queries import local_date
from standards.register.filters import StandardFilter
from standards.register.models import Standard
from standards.register.queries import elements_at, end_of_day, listed, state_of, usability

ON = OpenApiParameter("on", date, description="as of the end of that day; now where it is left out")


class DayUnreadable(LabError, ValueError):
    """The parameter ``on`` is no calendar day."""

    code: ClassVar[str] = "day-unreadable"
    sentence: ClassVar[str] = "“{found}” is no day. Write it as 2026-11-25."
    field: ClassVar[str | None] = "on"


def instant_of(request: Request) -> datetime:
    """Read ``on``: the end of that day, now for today and where it is left out; raises DayUnreadable."""
    text, now = request.query_params.get("on", ""), timezone.now()
    if not text:
        return now
    try:
        day = date.fromisoformat(text)
        return now if day == local_date(now) else end_of_day(day)
    except (ValueError, OverflowError) as problem:
        raise DayUnreadable(found=text) from problem


class StandardRecord(ChosenFields):
    """A standard with its state and due date now."""

    id = serializers.IntegerField()
    tag = serializers.CharField(source="tag.text")
    kind = serializers.ChoiceField(choices=Standard.Kind.choices)
    name = serializers.CharField()
    maker = serializers.CharField()
    model = serializers.CharField()
    serial = serializers.CharField()
    grade = serializers.CharField()
    place = serializers.CharField(source="place.name")
    interval_months = serializers.IntegerField()
    state = serializers.CharField(source="state_at")
    due_on = serializers.DateField(source="due_on_at", allow_null=True)
    calibration_in_force = serializers.IntegerField(source="in_force_id", allow_null=True)
    waiting_for_review = serializers.IntegerField(source="waiting", help_text="calibrations not decided on")


class ValueRecord(serializers.Serializer[Any]):
    """A value of an element; lengths in mm as decimal text, angles in arc seconds (see ``unit``)."""

    deviation_mm = serializers.DecimalField(max_digits=16, decimal_places=9)
    U_mm = serializers.DecimalField(max_digits=16, decimal_places=9, allow_null=True)
    k = serializers.DecimalField(max_digits=6, decimal_places=3, allow_null=True)
    degrees_of_freedom = serializers.IntegerField(allow_null=True, help_text="null: infinite, or not stated")
    basis = serializers.CharField()
    limit_mm = serializers.DecimalField(max_digits=16, decimal_places=9, allow_null=True)
    calibration = serializers.IntegerField(source="calibration_id")
    calibrated_on = serializers.DateField(source="calibration.calibrated_on")
    due_on = serializers.DateField(source="calibration.due_on")


class ElementRecord(serializers.Serializer[Any]):
    """An element with the value in force."""

    id = serializers.IntegerField(source="element.pk")
    label = serializers.CharField(source="element.label")  # type: ignore[assignment]
    nominal_mm = serializers.DecimalField(source="element.nominal_mm", max_digits=16, decimal_places=9)
    functions = serializers.ListField(source="element.functions", child=serializers.CharField())
    in_use = serializers.BooleanField()
    value = ValueRecord(allow_null=True)


class UsabilityRecord(serializers.Serializer[Any]):
    """Whether the standard might be used."""

    ok = serializers.BooleanField()
    code = serializers.CharField(allow_blank=True)
    sentence = serializers.CharField()


class ValuesRecord(ChosenFields):
    """A standard's values as of an instant."""

    tag = serializers.CharField()
    as_of = serializers.DateTimeField()
    state = serializers.CharField()
    unit = serializers.CharField(
        help_text="of every number whose name ends in _mm: mm, or ″ for a standard of angles"
    )
    usability = UsabilityRecord()
    elements = ElementRecord(many=True)


class Standards(ReadList):
    """The standards, narrowed and ordered as the page can."""

    permission = READ_RECORDS
    serializer_class = StandardRecord
    filterset_class = StandardFilter
    orders: ClassVar[dict[str, tuple[str, ...]]] = {
        "tag": ("tag__text", "pk"),
        "name": ("name", "pk"),
        "due": ("due_order", "pk"),
    }
    default_order = "tag"

    def get_queryset(self) -> QuerySet[Any]:
        """Find the standards as they are now."""
        return listed(timezone.now())


class OneStandard(ReadOne):
    """One standard as it is now."""

    permission = READ_RECORDS
    serializer_class = StandardRecord

    def get_queryset(self) -> QuerySet[Any]:
        """Find the standards as they are now."""
        return listed(timezone.now())


class Values(Reading):
    """The values of a standard's elements that were in force on a day."""

    permission = READ_RECORDS
    serializer_class = ValuesRecord
    parameters = ("fields", "on")

    @extend_schema(parameters=[ON])
    def get(self, request: Request, pk: int) -> Response:
        """Give the values as of the day asked for."""
        row = get_object_or_404(Standard.objects.select_related("tag"), pk=pk)
        at = instant_of(request)
        use = usability(row, at)
        found = {
            "tag": row.tag.text,
            "as_of": at,
            "state": state_of(row, at),
            "unit": row.quantity.base.value,
            "usability": {"ok": use.ok, "code": use.code, "sentence": use.sentence},
            "elements": [vars(one) for one in elements_at(row, at)],
        }
        return Response(self.get_serializer(found).data)
