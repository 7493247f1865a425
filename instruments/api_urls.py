"""Index of the API addresses of instruments, grouped by topic, nothing else."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from instruments.certificates import api as certificates
from instruments.desk import api as desk
from instruments.procedures import api as procedures
from instruments.recall import api as recall

_gauges: list[URLPattern | URLResolver] = [
    path("gauges/", desk.GaugeList.as_view(), name="api-gauges"),
    path("gauges/<str:tag>/", desk.GaugeDetail.as_view(), name="api-gauge"),
]

_recall: list[URLPattern | URLResolver] = [
    path("standings/", recall.StandingList.as_view(), name="api-standings"),
    path("standings/<str:tag>/", recall.StandingOne.as_view(), name="api-standing"),
]

_certificates: list[URLPattern | URLResolver] = [
    path("certificates/", certificates.CertificateList.as_view(), name="api-certificates"),
    path("certificates/<str:number>/", certificates.CertificateDetail.as_view(), name="api-certificate"),
]

_procedures: list[URLPattern | URLResolver] = [
    path("procedures/", procedures.ProcedureList.as_view(), name="api-procedures"),
    path(
        "procedures/<str:code>/revisions/<int:number>/",
        procedures.RevisionDetail.as_view(),
        name="api-procedure-revision",
    ),
    path("procedures/<str:code>/draft/", procedures.RevisionDraft.as_view(), name="api-procedure-draft"),
]

urlpatterns: list[URLPattern | URLResolver] = [*_gauges, *_recall, *_procedures, *_certificates]
