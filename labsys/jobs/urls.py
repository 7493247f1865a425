"""Addresses of messages."""

from __future__ import annotations

from django.urls import path

from labsys.jobs import views

urlpatterns = [
    path("", views.messages, name="messages"),
    path("<int:pk>/resend/", views.resend, name="message-resend"),
    path("<int:pk>/arrived/", views.arrived, name="message-arrived"),
]
