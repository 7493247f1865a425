"""Addresses for programs: certificates, listed and by number, with the same filters as the page."""

from __future__ import annotations

import json
from typing import Any, ClassVar

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers

from instruments.certificates.filters import CertificateFilter
from instruments.certificates.models import Certificate
from instruments.certificates.queries import certificates, document_of, verification_url
from labsys.api.fields import ChosenFields
from labsys.api.views import ReadList, ReadOne
from labsys.journal.access import READ_RECORDS


class CertificateSerializer(ChosenFields):
    """A certificate as the list shows it."""

    number = serializers.CharField()
    state = serializers.ChoiceField(choices=Certificate.State.choices)
    gauge = serializers.CharField(source="session.gauge.tag.text", help_text="the gauge's tag")
    family = serializers.CharField(source="session.gauge.model.family.code")
    department = serializers.CharField(source="session.gauge.department.code")
    signed_at = serializers.DateTimeField(source="numbered_at")
    issued_at = serializers.DateTimeField(allow_null=True, help_text="when its file was stored")
    document_sha256 = serializers.CharField(help_text="of the signed text")
    file_sha256 = serializers.CharField(help_text="of the PDF; empty until it is made")
    verification = serializers.SerializerMethodField(help_text="the public page")

    def get_verification(self, row: Certificate) -> str:
        """Give the public address."""
        return verification_url(row.code)


class CertificateDetailSerializer(CertificateSerializer):
    """A certificate with its document."""

    document = serializers.SerializerMethodField(
        help_text="everything the pages say, format 1; decimals as text"
    )

    def get_document(self, row: Certificate) -> dict[str, Any]:
        """Give the signed text as data, checked against its hash."""
        document_of(row)
        found: dict[str, Any] = json.loads(row.document)
        return found


@extend_schema(summary="List certificates")
class CertificateList(ReadList):
    """Certificates, narrowed and ordered as the page does it."""

    permission = READ_RECORDS
    serializer_class = CertificateSerializer
    filterset_class = CertificateFilter
    orders: ClassVar[dict[str, tuple[str, ...]]] = {
        "signed": ("numbered_at", "pk"),
        "number": ("number",),
        "gauge": ("session__gauge__tag__text", "pk"),
    }
    default_order = "-signed"

    def get_queryset(self) -> QuerySet[Certificate]:
        """Give what the list begins from."""
        return certificates()


@extend_schema(summary="One certificate, with its document")
class CertificateDetail(ReadOne):
    """One certificate by its number."""

    permission = READ_RECORDS
    serializer_class = CertificateDetailSerializer
    lookup_field = "number"

    def get_queryset(self) -> QuerySet[Certificate]:
        """Give what numbers are looked up in."""
        return certificates().defer(None)
