"""The entry of standards among Django's apps: reference standards and their traceability."""

from __future__ import annotations

from django.apps import AppConfig


class StandardsConfig(AppConfig):
    """Reference standards and their traceability."""

    name = "standards"
    label = "standards"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Declare the permissions of the topics."""
        import standards.register.access
        import standards.traceability.access  # noqa: F401 - declares permissions
