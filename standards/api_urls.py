"""Index of the API addresses of standards, by topic."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from standards.climate import api as climate
from standards.register import api as register
from standards.traceability import api as traceability

urlpatterns: list[URLPattern | URLResolver] = [
    path("standards/", register.Standards.as_view(), name="api-standards"),
    path("standards/<int:pk>/", register.OneStandard.as_view(), name="api-standard"),
    path("standards/<int:pk>/values/", register.Values.as_view(), name="api-standard-values"),
    path("standards/<int:pk>/log/", climate.Log.as_view(), name="api-standard-log"),
    path("calibrations/<int:pk>/chain/", traceability.Chain.as_view(), name="api-chain"),
]
