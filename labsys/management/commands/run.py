"""``manage.py run web|worker|clock``: becomes one process of the program, as a container or a service manager wants."""

from __future__ import annotations

import os
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser

from labsys import env, processes


class Command(BaseCommand):
    """Parses which process, and becomes it."""

    help = "Become one process: web on a port, a worker, or the one clock that wakes the workers."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the process and where the web server listens."""
        parser.add_argument("process", choices=["web", "worker", "clock"])
        parser.add_argument("--host", default="127.0.0.1", help="address the web server listens on")
        parser.add_argument("--port", type=int, default=8000, help="port the web server listens on")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Replace this process; signals then reach the program itself."""
        kinds = {
            "web": lambda: processes.web(options["host"], options["port"], processes=settings.PROCESSES),
            "worker": processes.worker,
            "clock": processes.clock,
        }
        command = kinds[options["process"]]().command
        os.chdir(env.ROOT)
        os.execv(command[0], command)
