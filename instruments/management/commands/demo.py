"""``manage.py demo``: the whole program on this machine with a demo laboratory, in one command.

Sets up what is missing, loads the demo laboratory where the database is empty, starts web, worker and clock, says
where to go and who to be, and ends everything when it ends. A second start only starts.
"""

from __future__ import annotations

import os
import sys
import time
import urllib.error
import urllib.request
import webbrowser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db.utils import OperationalError

from instruments.desk.demo import embedded, people
from labsys import processes, supervisor
from labsys.errors import LabError

UP_WITHIN_S = 60.0


class Command(BaseCommand):
    """Parses the options and runs the demo."""

    help = "Set up, load the demo laboratory where there is none, and run web, worker and clock until Ctrl-C."
    # The database may not be there yet; migrate checks what matters.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the options."""
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000)")
        parser.add_argument(
            "--host", default="127.0.0.1", help="address to listen on, for a tablet on the same network"
        )
        parser.add_argument(
            "--fresh", action="store_true", help="put the demo laboratory back to its beginning first"
        )
        parser.add_argument(
            "--once", action="store_true", help="do the main job once, show what came out, start nothing"
        )
        parser.add_argument(
            "--prepare", action="store_true", help="set up and load the demo laboratory, start nothing"
        )
        parser.add_argument("--no-browser", action="store_true", help="open no browser window")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Run the demo; ends with the supervisor's code."""
        self._once_only: bool = options["once"]
        try:
            with supervisor.only_one(settings.VAR):
                code = self._run(options)
        except LabError as refusal:
            raise CommandError(str(refusal)) from refusal
        except OperationalError as error:
            raise CommandError(f"The database does not answer as DATABASE_URL says: {error}") from error
        if code:
            sys.exit(code)

    def _run(self, options: dict[str, Any]) -> int:
        if not options["once"] and not options["prepare"]:
            supervisor.demand_port(options["host"], options["port"])  # before a long set-up, not after it
        self._set_up(fresh=options["fresh"])
        if options["prepare"]:
            return 0
        return self._once() if options["once"] else self._serve(options)

    def _once(self) -> int:
        from instruments.desk.demo import once  # it brings the renderer with it

        return once.run()

    def _serve(self, options: dict[str, Any]) -> int:
        host, port = options["host"], options["port"]
        address = f"http://{f'[{host}]' if ':' in host else host}:{port}"
        environment = {**os.environ, "LABSYS_URL": os.environ.get("LABSYS_URL") or address}
        running = supervisor.Supervisor(
            [processes.web(host, port), processes.worker_with_clock()],
            environment=environment,
            logs=settings.VAR / "logs",
            say=self._say,
        )

        def once_up() -> None:
            _wait_until_up(f"{address}/health/live", running)
            self._greet(address)
            if not options["no_browser"] and _has_screen():
                webbrowser.open(address)

        return running.run(once_up=once_up)

    def _set_up(self, *, fresh: bool) -> None:
        if fresh:
            embedded.clear()
        self._progress("Setting up …")
        call_command("set_up", verbosity=0)
        if embedded.is_empty():
            self._progress("Loading the demo laboratory, once …")
            embedded.load()

    def _say(self, sentence: str) -> None:
        """Tell the person; with --once what comes out alone is printed, so that a program can read it."""
        out = self.stderr if self._once_only else self.stdout
        out.write(sentence)
        out.flush()

    def _progress(self, sentence: str) -> None:
        # Not on standard output: what --once prints there is for programs to read.
        self.stderr.write(sentence, style_func=str)
        self.stderr.flush()

    def _greet(self, address: str) -> None:
        self.stdout.write(f"\nThe demo laboratory runs at {address}\n\nSign in as one of these:\n")
        for person in people.PEOPLE:
            self.stdout.write(f"  {person.username:<14} {person.password:<26} {person.moment}")
        logs = settings.VAR / "logs"
        self.stdout.write(
            f"\nMails are files in {settings.EMAIL_FILE_PATH}, logs in {logs}. Ctrl-C ends everything.\n"
        )
        self.stdout.flush()


def _wait_until_up(address: str, running: supervisor.Supervisor) -> None:
    """Wait until the web process answers, or an end is asked for; raises CommandError when it takes too long."""
    until = time.monotonic() + UP_WITHIN_S
    while not running.stopping:
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except urllib.error.HTTPError:
            return  # It refuses, so it answers.
        except OSError as error:
            if time.monotonic() > until:
                logs = settings.VAR / "logs" / "web.log"
                raise CommandError(
                    f"The web process did not answer ({error}); its words are in {logs}."
                ) from error
        time.sleep(0.1)


def _has_screen() -> bool:
    return sys.platform == "darwin" or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
