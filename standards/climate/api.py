"""Where a logger's program brings readings: idempotent, so that it may send again whatever it isn't sure of."""

from __future__ import annotations

from typing import Any, ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from labsys.accounts.models import Person
from labsys.api.views import Reading
from standards.climate.access import LOG_ROOM
from standards.climate.operations import log_readings
from standards.register.models import Standard


class SentReading(serializers.Serializer[Any]):
    """One reading; what can't be read is named in the answer and keeps no other from being taken."""

    at = serializers.CharField(
        help_text="2026-11-25T07:43:00+01:00; without an offset the laboratory's time", allow_blank=True
    )
    temperature_c = serializers.CharField(help_text="in °C, as a number or a text", allow_blank=True)
    humidity_percent = serializers.CharField(
        help_text="relative humidity in percent", required=False, allow_null=True, allow_blank=True
    )


class SentReadings(serializers.Serializer[Any]):
    """What a program sends: at most 10 000 readings at once."""

    readings = serializers.ListField(child=serializers.DictField(), allow_empty=False)


class RefusedReading(serializers.Serializer[Any]):
    """A reading that was not taken: its place in what was sent, from 1, and the sentence why."""

    place = serializers.IntegerField()
    sentence = serializers.CharField()


class LogAnswer(serializers.Serializer[Any]):
    """What became of what was sent."""

    new = serializers.IntegerField(help_text="readings that the log did not have")
    known = serializers.IntegerField(help_text="readings that it had, of the same instant and value")
    refused = RefusedReading(many=True, help_text="at most 200 of those not taken")
    refused_count = serializers.IntegerField()
    sha256 = serializers.CharField(help_text="of what was sent, as kept")


class _Request(serializers.Serializer[Any]):
    """The form of the message, for the published description only."""

    readings = SentReading(many=True)


class Log(Reading):
    """Adds readings to the log of a thermometer."""

    permission = LOG_ROOM
    parameters: ClassVar[tuple[str, ...]] = ()
    serializer_class = LogAnswer

    @extend_schema(
        operation_id="log_room",
        summary="Add readings to a thermometer's log",
        request=_Request,
        responses={200: LogAnswer},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Take what can be read; the same readings sent again are the same readings."""
        sensor = get_object_or_404(Standard.objects.select_related("tag"), pk=pk)
        sent = SentReadings(data=request.data)
        sent.is_valid(raise_exception=True)
        by = request.user
        assert isinstance(by, Person)
        made = log_readings(
            sensor=sensor, readings=sent.validated_data["readings"], by=by, now=timezone.now()
        )
        answer = {
            "new": made.new_count,
            "known": made.known_count,
            "refused": [{"place": place, "sentence": sentence} for place, sentence in made.faults],
            "refused_count": made.fault_count,
            "sha256": made.sha256,
        }
        return Response(LogAnswer(answer).data)
