"""The whole program as a person starts it, for tests in a browser and tests that kill.

A stack is a folder, a database and a port, started by the demo's own supervisor. Its laboratory is loaded once per
run of the tests and copied.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import psycopg

from labsys import env

ROOT = Path(__file__).resolve().parents[1]
GREETED = "Mails are files"  # the greeting's last line
UP_WITHIN_S = 120.0


def until(holds: Callable[[], bool], *, within_s: float = 15.0) -> bool:
    """Wait for something outside this process to become true; tell whether it did in time."""
    end = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def free_port() -> int:
    """Find a port that nothing listens on at this moment."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


def children(pid: int) -> list[int]:
    """List the direct children of a process."""
    try:
        return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except FileNotFoundError:
        return []


def lives(pid: int) -> bool:
    """Tell whether a process runs; one that only waits to be collected doesn't."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def command_line(pid: int) -> str:
    """Give a process's command line, empty when it is gone."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")
    except FileNotFoundError:
        return ""


@dataclass(frozen=True)
class Database:
    """Where a stack keeps its records: a file in its folder, or a database of its own on the server under test."""

    server: str = ""
    name: str = ""

    @property
    def address(self) -> str:
        """The value of DATABASE_URL; empty for a file."""
        return f"{self.server.rsplit('/', 1)[0]}/{self.name}" if self.server else ""

    def make(self, template: str = "template1") -> None:
        """Make it, as a copy of another; nothing to do for a file."""
        self._administer(f'CREATE DATABASE "{self.name}" TEMPLATE "{template}"')

    def drop(self) -> None:
        """Remove it with whatever is still connected; nothing to do for a file."""
        self._administer(f'DROP DATABASE IF EXISTS "{self.name}" WITH (FORCE)')

    def _administer(self, statement: str) -> None:
        if self.server:
            with psycopg.connect(f"{self.server.rsplit('/', 1)[0]}/postgres", autocommit=True) as connection:
                connection.execute(statement)


@dataclass
class Stack:
    """A folder, a database and, once started, the supervisor with its children."""

    folder: Path
    database: Database = field(default_factory=Database)
    settings: dict[str, str] = field(default_factory=dict)
    port: int = 0
    process: subprocess.Popen[str] | None = None
    output: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Where the web process answers."""
        return f"http://127.0.0.1:{self.port}"

    def environment(self) -> dict[str, str]:
        """Give the environment of a stack: nothing of this run's but the services under test."""
        known = {variable.name for variable in env.VARIABLES} - {"REDIS_URL"}
        own = {name: value for name, value in os.environ.items() if name not in known}
        own.pop("DJANGO_SETTINGS_MODULE", None)
        records = {"LABSYS_VAR": str(self.folder), "DATABASE_URL": self.database.address}
        return {**own, **records, "LABSYS_BOOTSTRAP": "0", **self.settings}

    def manage(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run a command of the program on this stack's records."""
        command = [sys.executable, "manage.py", *arguments]
        return subprocess.run(
            command, cwd=ROOT, env=self.environment(), capture_output=True, text=True, check=False
        )

    def start(self) -> None:
        """Start the demo and wait for its greeting."""
        self.port = self.port or free_port()
        command = [sys.executable, "manage.py", "demo", "--no-browser", "--port", str(self.port)]
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            env=self.environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.output = []
        assert self.process.stdout is not None
        impatience = threading.Timer(UP_WITHIN_S, self.process.kill)
        impatience.start()
        for line in self.process.stdout:
            self.output.append(line)
            if line.startswith(GREETED):
                impatience.cancel()
                return
        impatience.cancel()
        raise AssertionError("The demo ended before it greeted:\n" + "".join(self.output) + self.logs())

    def stop(self) -> int:
        """Ask the supervisor to end and give its code."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(60)

    def child(self, word: str) -> int:
        """Give the number of the supervisor's child whose command line holds ``word``; 0 while there is none."""
        assert self.process is not None
        return next((pid for pid in children(self.process.pid) if word in command_line(pid)), 0)

    def answers(self) -> bool:
        """Tell whether the web process answers."""
        return self._is_well("live")

    def ticks(self) -> bool:
        """Tell whether a sweep has ended well in the last minutes."""
        return self._is_well("clock")

    def _is_well(self, what: str) -> bool:
        try:
            with urllib.request.urlopen(f"{self.address}/health/{what}", timeout=5) as answer:
                return bool(answer.status == 200)
        except OSError:
            return False

    def logs(self) -> str:
        """Give the last words of the children, for a failure's message."""
        logs = sorted((self.folder / "logs").glob("*.log"))
        return "\n".join(f"-- {path.name}\n{path.read_text()[-4000:]}" for path in logs)

    def copy(self, folder: Path) -> Stack:
        """Copy a stack that isn't running."""
        shutil.copytree(self.folder, folder)
        database = Database(self.database.server, f"{self.database.name}_{folder.name}"[:60])
        database.drop()
        database.make(self.database.name)
        return Stack(folder, database)

    def remove(self) -> None:
        """End whatever still runs and remove the records."""
        if self.process is not None and self.process.poll() is None:
            self.stop()
        self.database.drop()
        shutil.rmtree(self.folder, ignore_errors=True)
