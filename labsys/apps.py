"""The site's entry among Django's apps."""

from __future__ import annotations

from django.apps import AppConfig


class LabsysConfig(AppConfig):
    """The site: what the apps of the laboratory stand on."""

    name = "labsys"
    label = "labsys"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Make the Celery app known, so that shared tasks find it."""
        import labsys.celery  # noqa: F401 - settings must be there first
        from django.db.models.signals import post_migrate

        import labsys.accounts.access
        import labsys.jobs.access
        import labsys.journal.access
        import labsys.laboratory.access  # noqa: F401 - declares permissions
        from labsys.accounts.roles import sync

        post_migrate.connect(sync, sender=self, dispatch_uid="labsys.roles")
