"""What the journal's subjects stand for in instruments: gauges by their tags, certificates by numbers."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django.db.models import QuerySet

from instruments.certificates.models import Certificate
from instruments.inventory.models import Gauge, GaugeImport, GaugeModel
from instruments.measuring.models import Session, Sitting, Submission
from instruments.procedures.models import Procedure, Revision
from instruments.recall.models import CallIn, OutsideCertificate, UseCheck
from labsys.journal.subjects import Find, Kind, Names, register
from labsys.laboratory.queries import called

MOST = 20


def _by_column(rows: QuerySet[Any], column: str) -> Names:
    def names(ids: Collection[int]) -> Mapping[int, str]:
        return dict(rows.filter(pk__in=ids).values_list("pk", column))

    return names


def _in_words(rows: QuerySet[Any]) -> Names:
    def names(ids: Collection[int]) -> Mapping[int, str]:
        return {row.pk: str(row) for row in rows.filter(pk__in=ids)}

    return names


def _exactly(rows: QuerySet[Any], column: str) -> Find:
    def find(text: str) -> Collection[int]:
        return list(rows.filter(**{f"{column}__iexact": text}).values_list("pk", flat=True)[:MOST])

    return find


def _tagged(text: str) -> Collection[int]:
    return list(called(Gauge.objects.all(), text).values_list("pk", flat=True)[:MOST])


def explain() -> None:
    """Tell the journal; called once, at start."""
    sessions = Session.objects.select_related("gauge__tag")
    submissions = Submission.objects.select_related("session__gauge__tag")
    revisions = Revision.objects.select_related("procedure")
    for kind in (
        Kind("gauge", "gauge", "gauge", _by_column(Gauge.objects.all(), "tag__text"), _tagged),
        Kind("model", "model", "gauge-model", _in_words(GaugeModel.objects.all())),
        Kind("session", "", "session", _in_words(sessions)),
        Kind("sitting", "", "bench-sitting", _in_words(Sitting.objects.all())),
        Kind("submission", "", "", _in_words(submissions)),
        Kind(
            "certificate",
            "certificate",
            "certificate",
            _by_column(Certificate.objects.all(), "number"),
            _exactly(Certificate.objects.all(), "number"),
        ),
        Kind("call-in", "call-in of", "", _in_words(CallIn.objects.select_related("gauge__tag"))),
        Kind("use-check", "check of", "", _in_words(UseCheck.objects.select_related("gauge__tag"))),
        Kind("gauge-import", "list", "gauge-sheet", _by_column(GaugeImport.objects.all(), "file_name")),
        Kind("procedure", "procedure", "procedure", _in_words(Procedure.objects.all())),
        Kind("revision", "", "revision", _in_words(revisions)),
        Kind(
            "outside",
            "outside certificate",
            "outside-certificate",
            _in_words(OutsideCertificate.objects.all()),
        ),
    ):
        register(kind)
