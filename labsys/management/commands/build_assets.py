"""``manage.py build_assets``: makes the fonts of pages and certificates. Does nothing when they are there."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from labsys.pages import fonts


class Command(BaseCommand):
    """Build the font files from their packages, once."""

    help = (
        "Makes the font files that pages and certificates are set in, where they are missing or out of date."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Take nothing but the usual options."""

    def handle(self, *args: Any, **options: Any) -> None:
        """Build, and say whether anything was made."""
        made = fonts.build()
        if options["verbosity"]:
            self.stdout.write(f"Fonts {'made' if made else 'are up to date'}: {fonts.folder()}")
