"""The entry of instruments among Django's apps: everything done to and with the gauges."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig

# Topics whose access.py declares permissions; importing it is the declaration.
_DECLARING = ("inventory", "procedures", "recall", "measuring", "certificates")


class InstrumentsConfig(AppConfig):
    """Everything done to and with the gauges."""

    name = "instruments"
    label = "instruments"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Gather the permissions of the topics, and what they offer to the pages."""
        for topic in _DECLARING:
            import_module(f"instruments.{topic}.access")
        from instruments.desk.offers import offer

        offer()
