"""Index of the API addresses of instruments, grouped by topic, nothing else."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from instruments.desk import api as desk

_gauges: list[URLPattern | URLResolver] = [
    path("gauges/", desk.GaugeList.as_view(), name="api-gauges"),
    path("gauges/<str:tag>/", desk.GaugeDetail.as_view(), name="api-gauge"),
]

urlpatterns: list[URLPattern | URLResolver] = [*_gauges]
