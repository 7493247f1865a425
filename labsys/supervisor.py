"""Starts the program's processes, keeps them running and ends them: web, worker and clock on one machine.

Each child leads a session of its own, so that a keystroke for the supervisor isn't one for them. They end with it
however it ends: by signal, by Ctrl-C, and on Linux by kill -9 too. Knows nothing of what the processes do.
"""

from __future__ import annotations

import fcntl
import os
import signal
import socket
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

from labsys.errors import LabError
from labsys.lineage import end_with

MOST_RESTARTS = 5
RESTARTS_WITHIN_S = 60.0
POLL_S = 0.2
_ROOT = Path(__file__).resolve().parent.parent


class PortTaken(LabError, OSError):
    """Another program listens where the web process should."""

    code: ClassVar[str] = "port-taken"
    sentence: ClassVar[str] = (
        "Expected {host}:{port} to be free, and another program listens there. "
        "End that one, or choose another port: python3 manage.py demo --port {other}"
    )


class AlreadyRunning(LabError):
    """The same folder is already served; a second clock would wake everything twice."""

    code: ClassVar[str] = "already-running"
    sentence: ClassVar[str] = "The program already runs from {folder}. Use that one, or end it first."


@dataclass(frozen=True)
class Service:
    """One process to keep: what to call it, what to run, how long its orderly end may take in seconds.

    ``orphaned`` is the signal it gets when the supervisor itself is killed.
    """

    name: str
    command: tuple[str, ...]
    patience_s: float = 15.0
    orphaned: signal.Signals = signal.SIGTERM


@dataclass
class _Running:
    service: Service
    process: subprocess.Popen[bytes]
    starts: deque[float] = field(default_factory=deque)


def demand_port(host: str, port: int) -> None:
    """Refuse a port that can't be listened on; raises PortTaken."""
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise PortTaken(host=host, port=port, other=port + 1) from error


@contextmanager
def only_one(folder: Path) -> Iterator[None]:
    """Hold the folder's lock while the program runs from it; raises AlreadyRunning. The lock dies with the process."""
    with (folder / "running.lock").open("w") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise AlreadyRunning(folder=folder) from error
        yield


class Supervisor:
    """Runs services until told to stop or until one can't be kept running."""

    def __init__(
        self,
        services: Sequence[Service],
        *,
        environment: Mapping[str, str],
        logs: Path,
        say: Callable[[str], None],
    ) -> None:
        self._services = services
        self._environment = dict(environment)
        self._logs = logs
        self._say = say
        self._stop = threading.Event()
        self._running: list[_Running] = []

    def run(self, *, once_up: Callable[[], None] | None = None) -> int:
        """Keep the services until SIGTERM, SIGINT or SIGHUP (gives 0) or a hopeless service (gives 1)."""
        before = {number: signal.signal(number, self._told_to_stop) for number in _ENDING}
        try:
            self._running = [_Running(service, self._start(service)) for service in self._services]
            if once_up is not None:
                once_up()
            return self._keep()
        finally:
            self._end()
            for number, handler in before.items():
                signal.signal(number, handler)

    @property
    def stopping(self) -> bool:
        """Tell whether an end was asked for, to whoever waits in ``once_up``."""
        return self._stop.is_set()

    def _told_to_stop(self, _number: int, _frame: object) -> None:
        self._stop.set()

    def _keep(self) -> int:
        while not self._stop.wait(POLL_S):
            for one in self._running:
                code = one.process.poll()
                if code is not None and not self._restart(one, code):
                    return 1
        return 0

    def _start(self, service: Service) -> subprocess.Popen[bytes]:
        self._logs.mkdir(parents=True, exist_ok=True)
        parent = os.getpid()
        with (self._logs / f"{service.name}.log").open("ab") as log:
            return subprocess.Popen(
                service.command,
                env=self._environment,
                cwd=_ROOT,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
                preexec_fn=lambda: end_with(parent, service.orphaned),
            )

    def _restart(self, one: _Running, code: int) -> bool:
        """Start a service again that ended by itself, unless it keeps ending; tell whether it runs."""
        _kill_group(one.process)
        now = time.monotonic()
        one.starts.append(now)
        while one.starts and one.starts[0] < now - RESTARTS_WITHIN_S:
            one.starts.popleft()
        log = self._logs / f"{one.service.name}.log"
        if len(one.starts) > MOST_RESTARTS:
            self._say(
                f"The {one.service.name} process keeps ending (code {code}); its last words are in {log}."
            )
            return False
        self._say(f"The {one.service.name} process ended by itself (code {code}) and is started again.")
        one.process = self._start(one.service)
        return True

    def _end(self) -> None:
        # Only the leader is told: some worker pools hang when the signal goes to their whole group.
        for one in self._running:
            with suppress(ProcessLookupError):
                one.process.terminate()
        for one in self._running:
            try:
                one.process.wait(one.service.patience_s)
            except subprocess.TimeoutExpired:
                self._say(f"The {one.service.name} process did not end in time and is killed.")
            _kill_group(one.process)
            one.process.wait()


_ENDING = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)


def _kill_group(process: subprocess.Popen[bytes]) -> None:
    """Kill what a leader left behind; its children are in its group."""
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)
