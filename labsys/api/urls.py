"""Addresses of the schema and of the page that explains it. The site includes them below ``/api/v1/``."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.urls import path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path(
        "docs/",
        login_required(
            SpectacularSwaggerSplitView.as_view(url_name="api-schema", template_name="labsys/api/docs.html")
        ),
        name="api-docs",
    ),
]
