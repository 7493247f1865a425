"""Index of the addresses of instruments: one include per topic, nothing else."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []
