"""The entry of instruments among Django's apps: everything done to and with the gauges."""

from __future__ import annotations

from django.apps import AppConfig


class InstrumentsConfig(AppConfig):
    """Everything done to and with the gauges."""

    name = "instruments"
    label = "instruments"
    default_auto_field = "django.db.models.BigAutoField"
