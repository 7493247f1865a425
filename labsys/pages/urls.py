"""Addresses of help and of the page that shows every element. The site includes them below ``/help/``."""

from __future__ import annotations

from django.urls import path

from labsys.pages import views

urlpatterns = [
    path("", views.help_index, name="help"),
    path("elements/", views.elements, name="help-elements"),
    path("<slug:slug>/", views.help_page, name="help-page"),
]
