"""Addresses of the laboratory for programs. The site includes them below ``/api/v1/``."""

from __future__ import annotations

from django.urls import path

from labsys.laboratory.api import Evaluate

urlpatterns = [path("evaluate/", Evaluate.as_view(), name="api-evaluate")]
