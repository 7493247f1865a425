"""The entry of standards among Django's apps: reference standards and their traceability."""

from __future__ import annotations

from django.apps import AppConfig


class StandardsConfig(AppConfig):
    """Reference standards and their traceability."""

    name = "standards"
    label = "standards"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Declare the permissions of the topics, and put place, help, panels and subjects where pages find them."""
        import standards.climate.access
        import standards.register.access
        import standards.traceability.access  # noqa: F401 - declares permissions
        from labsys.journal.access import READ_RECORDS
        from labsys.pages import help, places
        from standards.climate import panels as climate
        from standards.traceability import panels, subjects

        places.register(name="Standards", url_name="standards", permission=READ_RECORDS)
        help.register(
            slug="standards",
            title="Standards",
            template="standards/help/standards.html",
            prefix="/standards/",
        )
        help.register(slug="room-log", title="Log of the room", template="standards/help/log.html")
        panels.register()
        climate.register()
        subjects.explain()
