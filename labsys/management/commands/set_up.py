"""``manage.py set_up``: brings the database and the built assets up to date. Safe to repeat."""

from __future__ import annotations

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    """Runs the two steps that must be done before the first request."""

    help = "Apply what is missing to the database and build the assets that are missing."
    # The tables that checks look at may not be there yet; migrate checks what matters.
    requires_system_checks: list[str] = []

    def handle(self, *_args: Any, **options: Any) -> None:
        """Migrate, then build."""
        call_command("migrate", interactive=False, verbosity=max(0, options["verbosity"] - 1))
        call_command("build_assets", verbosity=max(0, options["verbosity"] - 1))
