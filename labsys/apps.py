"""The site's entry among Django's apps."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_migrate

# Topics whose access.py declares permissions; importing it is the declaration.
_DECLARING = ("journal", "laboratory", "accounts", "jobs")
# Topics that put something into the header, into help, below a place or into the words of the journal.
_OFFERING = ("journal", "accounts", "laboratory", "jobs")


class LabsysConfig(AppConfig):
    """The site: what the apps of the laboratory stand on."""

    name = "labsys"
    label = "labsys"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Make the Celery app known, so that shared tasks find it, gather the permissions and what pages offer."""
        import_module("labsys.celery")
        for topic in _DECLARING:
            import_module(f"labsys.{topic}.access")
        for topic in _OFFERING:
            import_module(f"labsys.{topic}.offers").offer()
        from labsys.accounts.roles import sync

        post_migrate.connect(sync, sender=self, dispatch_uid="labsys.roles")
