"""Addresses of the description and of the page that explains it. The site includes them below ``/api/v1/``."""

from __future__ import annotations

from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from labsys.api.docs import docs

urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path("docs/", docs, name="api-docs"),
]
