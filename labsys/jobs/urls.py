"""Addresses of jobs and messages. The site includes them below ``/lab/``."""

from __future__ import annotations

from django.urls import path

from labsys.jobs.views import messages, runs

urlpatterns = [
    path("jobs/", runs.jobs, name="jobs"),
    path("messages/", messages.messages, name="messages"),
    path("messages/<int:pk>/resend/", messages.resend, name="message-resend"),
    path("messages/<int:pk>/arrived/", messages.arrived, name="message-arrived"),
]
