"""Addresses for programs: the chain of a calibration with every check and every fault."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from labsys.api.fields import ChosenFields
from labsys.api.views import Reading
from labsys.journal.access import READ_RECORDS
from standards.register.api import ON, instant_of
from standards.register.models import Calibration
from standards.traceability.queries import Node, chain_of, faults_of


class LinkRecord(serializers.Serializer[Any]):
    """One condition of a valid link."""

    code = serializers.CharField(help_text="L1 … L10")
    word = serializers.CharField()
    holds = serializers.BooleanField(allow_null=True, help_text="null: not checked, which is no pass")
    sentence = serializers.CharField()


class FaultRecord(serializers.Serializer[Any]):
    """What an assessor would write down."""

    code = serializers.CharField()
    level = serializers.ChoiceField(choices=("block", "warn"))
    sentence = serializers.CharField()
    subject = serializers.CharField(help_text="such as calibration:4")


class NodeRecord(serializers.Serializer[Any]):
    """A calibration in the chain, checked on the day it was relied on."""

    calibration = serializers.IntegerField()
    standard = serializers.CharField(help_text="the tag")
    depth = serializers.IntegerField()
    calibrated_on = serializers.DateField()
    relied_on_on = serializers.DateField()
    issuer = serializers.CharField(allow_null=True)
    certificate = serializers.CharField(allow_null=True)
    is_terminus = serializers.BooleanField()
    relies_on = serializers.ListField(child=serializers.IntegerField(), help_text="ids of calibrations")
    links = LinkRecord(many=True)


class ChainRecord(ChosenFields):
    """A chain, from the calibration asked for upward, each level before the one above it."""

    holds = serializers.BooleanField()
    as_of = serializers.DateTimeField()
    faults = FaultRecord(many=True)
    nodes = NodeRecord(many=True)


class Chain(Reading):
    """The chain of a calibration as if it were relied on on a day."""

    permission = READ_RECORDS
    serializer_class = ChainRecord
    parameters = ("fields", "on")

    @extend_schema(parameters=[ON])
    def get(self, request: Request, pk: int) -> Response:
        """Give the chain as of the day asked for."""
        calibration = get_object_or_404(Calibration.objects.select_related("standard__tag"), pk=pk)
        at = instant_of(request)
        node = chain_of(calibration, at)
        found = {
            "holds": node.holds,
            "as_of": at,
            "faults": faults_of(node),
            "nodes": [_record(one) for one in node.walk()],
        }
        return Response(self.get_serializer(found).data)


def _record(node: Node) -> dict[str, Any]:
    certificate = node.certificate
    return {
        "calibration": node.calibration.pk,
        "standard": node.calibration.standard.tag.text,
        "depth": node.depth,
        "calibrated_on": node.calibration.calibrated_on,
        "relied_on_on": node.use.day,
        "issuer": certificate.issuer.name if certificate else None,
        "certificate": certificate.number if certificate else None,
        "is_terminus": node.is_terminus,
        "relies_on": [above.calibration.pk for above in node.upstream],
        "links": node.links,
    }
