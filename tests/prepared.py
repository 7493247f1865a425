"""The demo laboratory, loaded once for all processes of a test run and beside their first tests; tests copy it."""

from __future__ import annotations

import fcntl
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import pytest

from tests.stack import Database, Stack

MAKE_WHAT_IS_OWED = """
from django.utils import timezone
from instruments.certificates.tasks import sweep
while sum(done := sweep(timezone.now())):
    assert not done[1], f"{done[1]} files can't be made"
"""
IS_MADE = "made"


@dataclass(frozen=True)
class Prepared:
    """A stack that never runs, who uses it, and what became of loading it: files that one process holds at a time."""

    stack: Stack

    @classmethod
    def of_this_run(cls, base: Path) -> Prepared:
        """Give the one that the processes of this run share; ``base`` is where this process keeps its files."""
        folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "prepared"
        folder.mkdir(exist_ok=True)
        run = os.environ.get("PYTEST_XDIST_TESTRUNUID", f"{os.getpid()}")[:12]
        return cls(
            Stack(folder / "stack", Database(os.environ.get("DATABASE_URL", ""), f"labsys_stack_{run}"))
        )

    def begin(self) -> None:
        """Count this process among the users and load beside what it does now, unless another one does."""
        with self._held("users") as users:
            users.write(f"{os.getpid()} ")
        threading.Thread(target=self._loaded, daemon=True).start()

    def wait(self) -> Stack:
        """Give the stack once it is loaded."""
        said = self._loaded()
        assert said == IS_MADE, said
        return self.stack

    def end(self) -> None:
        """Take this process from the users; the last one removes everything."""
        with self._held("users") as users:
            left = set(users.read().split()) - {f"{os.getpid()}"}
            users.truncate(0)
            users.write("".join(f"{one} " for one in left))
            if not left and self._loaded():
                self.stack.remove()
                (self.stack.folder.parent / "loaded").unlink()

    def _loaded(self) -> str:
        with self._held("loaded") as told:
            said = told.read()
            if not said:
                said = self._load()
                told.write(said)
        return said

    def _load(self) -> str:
        self.stack.database.make()
        self.stack.folder.mkdir()
        # Every copy would make the files of the demo's certificates anew, beside what its test is about.
        for command in (("demo", "--prepare"), ("shell", "--no-imports", "-c", MAKE_WHAT_IS_OWED)):
            done = self.stack.manage(*command)
            if done.returncode:
                return done.stdout + done.stderr
        return IS_MADE

    @contextmanager
    def _held(self, name: str) -> Iterator[IO[str]]:
        with (self.stack.folder.parent / name).open("a+") as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            file.seek(0)
            yield file


def is_asked_for(items: list[pytest.Item]) -> bool:
    """Say whether any of these tests runs on the demo laboratory."""
    return any("prepared_stack" in getattr(item, "fixturenames", ()) for item in items)
