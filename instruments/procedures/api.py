"""Addresses for programs: procedures, listed; one revision with its content; a content brought as a draft."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet, prefetch_related_objects
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from instruments.procedures.access import DRAFT_PROCEDURES
from instruments.procedures.content.writing import to_json
from instruments.procedures.models import Procedure, Revision
from instruments.procedures.operations import change_draft, draft_revision
from instruments.procedures.queries import content_of, draft_of, procedures, revisions, state_words
from labsys.accounts.models import Person
from labsys.api.fields import ChosenFields
from labsys.api.views import Reading, ReadList, ReadOne
from labsys.errors import LabError
from labsys.journal.access import READ_RECORDS
from labsys.journal.door import canonical


class NoDraftToReplace(LabError, ValueError):
    """What a change was made from is named, and there is no draft to change."""

    code: ClassVar[str] = "no-draft-to-replace"
    field: ClassVar[str | None] = "based_on_sha256"
    sentence: ClassVar[str] = (
        "{procedure} has no draft, so there is nothing to replace. Leave based_on_sha256 out to start one."
    )


class RevisionShortSerializer(serializers.Serializer[Any]):
    """A revision as the list of procedures names it."""

    number = serializers.IntegerField()
    sha256 = serializers.CharField(source="content_sha256", help_text="of its content")
    drafted_at = serializers.DateTimeField()
    approved_at = serializers.DateTimeField(allow_null=True)


class ProcedureSerializer(ChosenFields):
    """A procedure with what is in force and what is being drafted."""

    code = serializers.CharField()
    title = serializers.CharField()
    family = serializers.CharField(source="family.code")
    in_force = serializers.SerializerMethodField()
    draft = serializers.SerializerMethodField()

    @extend_schema_field(RevisionShortSerializer(allow_null=True))
    def get_in_force(self, row: Procedure) -> dict[str, Any] | None:
        """Give the revision in force now, null where none is."""
        return self._short(row, "in force")

    @extend_schema_field(RevisionShortSerializer(allow_null=True))
    def get_draft(self, row: Procedure) -> dict[str, Any] | None:
        """Give the draft, null where there is none."""
        return self._short(row, "draft")

    def _short(self, row: Procedure, state: str) -> dict[str, Any] | None:
        now = timezone.now()
        found = next((one for one in row.revisions.all() if state_words(one, now) == state), None)
        return None if found is None else RevisionShortSerializer(found).data


class ApprovalSerializer(serializers.Serializer[Any]):
    """A signature over the hash of the content."""

    name = serializers.CharField()
    role = serializers.CharField()
    signed_at = serializers.DateTimeField()
    record_sha256 = serializers.CharField(help_text="the hash that was signed")


class RevisionSerializer(ChosenFields):
    """A revision with everything it says."""

    procedure = serializers.CharField(source="procedure.code")
    number = serializers.IntegerField()
    state = serializers.SerializerMethodField(help_text="draft, in force or retired")
    change = serializers.CharField(help_text="what changed against the one before, and why")
    sha256 = serializers.CharField(
        source="content_sha256", help_text="of the content as sorted text without blanks"
    )
    drafted_by = serializers.CharField()
    drafted_at = serializers.DateTimeField()
    approved_at = serializers.DateTimeField(allow_null=True)
    retired_at = serializers.DateTimeField(allow_null=True)
    approvals = serializers.SerializerMethodField()
    content = serializers.SerializerMethodField(
        help_text="as the file of the revision's page; decimals as text"
    )

    def get_state(self, row: Revision) -> str:
        """Say how it stands now."""
        return state_words(row, timezone.now())

    @extend_schema_field(ApprovalSerializer(many=True))
    def get_approvals(self, row: Revision) -> list[Any]:
        """Give the signatures; a draft has none."""
        return [] if row.approval is None else list(ApprovalSerializer([row.approval], many=True).data)

    def get_content(self, row: Revision) -> dict[str, Any]:
        """Give the content as data, checked against its hash."""
        return to_json(content_of(row))


class SentContent(serializers.Serializer[Any]):
    """What a program sends: a content, why, and for a draft that stands what the change was made from."""

    content = serializers.DictField(help_text="in the form of a revision's file", allow_empty=False)
    change = serializers.CharField(
        help_text="what changes against the revision before, and why; may be left out where a draft says it already",
        required=False,
        allow_blank=True,
        trim_whitespace=True,
    )
    based_on_sha256 = serializers.CharField(
        help_text="to replace a draft: its sha256 as it was read. Left out to start a draft",
        required=False,
        allow_null=True,
        max_length=64,
    )


@extend_schema(operation_id="procedures", summary="List procedures")
class ProcedureList(ReadList):
    """Procedures with the revision in force and the draft of each."""

    permission = READ_RECORDS
    serializer_class = ProcedureSerializer
    default_order = "code"
    orders: ClassVar[dict[str, tuple[str, ...]]] = {"code": ("code",), "family": ("family__code", "pk")}

    def get_queryset(self) -> QuerySet[Procedure]:
        """Give what the list begins from."""
        return procedures()


@extend_schema(operation_id="procedure_revision", summary="One revision of a procedure, with its content")
class RevisionDetail(ReadOne):
    """One revision by its procedure's code and its number."""

    permission = READ_RECORDS
    serializer_class = RevisionSerializer
    queryset = Revision.objects.none()

    def get_object(self) -> Revision:
        """Find the revision; raises Http404."""
        return get_object_or_404(
            revisions(), procedure__code=self.kwargs["code"], number=self.kwargs["number"]
        )


class RevisionDraft(Reading):
    """Takes a content as the draft of a procedure, by the same acts as the pages."""

    permission = DRAFT_PROCEDURES
    parameters: ClassVar[tuple[str, ...]] = ()
    serializer_class = RevisionSerializer

    @extend_schema(
        operation_id="draft_procedure",
        summary="Bring a content as the draft of a procedure",
        request=SentContent,
        responses={200: RevisionSerializer, 201: RevisionSerializer},
    )
    def post(self, request: Request, code: str) -> Response:
        """Start the next revision (201); with ``based_on_sha256`` replace the draft there is (200)."""
        row = Procedure.objects.filter(code=code).first()
        if row is None:
            raise Http404
        sent = SentContent(data=request.data)
        sent.is_valid(raise_exception=True)
        by = request.user
        assert isinstance(by, Person)
        # The act asks for the roles more than once.
        prefetch_related_objects([by], "groups")
        based_on = sent.validated_data.get("based_on_sha256")
        made = _replaced(row, sent.validated_data, by) if based_on else _started(row, sent.validated_data, by)
        answer = RevisionSerializer(get_object_or_404(revisions(), pk=made.pk), context={"request": request})
        return Response(answer.data, status=200 if based_on else 201)


def _started(row: Procedure, sent: dict[str, Any], by: Person) -> Revision:
    return draft_revision(
        procedure=row,
        content_text=canonical(sent["content"]),
        change=sent.get("change", ""),
        by=by,
        now=timezone.now(),
    )


def _replaced(row: Procedure, sent: dict[str, Any], by: Person) -> Revision:
    draft = draft_of(row)
    if draft is None:
        raise NoDraftToReplace(procedure=str(row))
    return change_draft(
        revision=draft,
        content_text=canonical(sent["content"]),
        change=sent.get("change", draft.change),
        based_on_sha256=sent["based_on_sha256"],
        by=by,
        now=timezone.now(),
    )
