"""Addresses of the journal. The site includes them below ``/journal/``."""

from __future__ import annotations

from django.urls import path

from labsys.journal import views

urlpatterns = [
    path("", views.journal, name="journal"),
    path("verify/", views.verify, name="journal-verify"),
    path("<int:pk>/", views.entry, name="journal-entry"),
]
