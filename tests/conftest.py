"""What every test run shares: what a skipped test means, where a browser is, the whole program as one stack.

People and gauges come from the topics' own conftest files.
"""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from labsys.bootstrap import CHROMIUM_NAMES
from tests import flushing
from tests.stack import Database, Stack

# A test may be for one engine only and then says so first; any other reason to skip is something that is missing.
MEANT_SKIP = "only on "
NO_SKIPS = "LABSYS_NO_SKIPS"


def _missing(config: pytest.Config) -> list[str]:
    """List the reasons of tests that were skipped because something wasn't there."""
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    reports = reporter.stats.get("skipped", []) if reporter else []
    reasons = (report.longrepr for report in reports)
    texts = {reason[2] if isinstance(reason, tuple) else str(reason) for reason in reasons}
    return sorted(text for text in texts if not text.removeprefix("Skipped: ").startswith(MEANT_SKIP))


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail a run that promised to have everything there (LABSYS_NO_SKIPS=1) and skipped something all the same."""
    if os.environ.get(NO_SKIPS) == "1" and _missing(session.config):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say which reasons made such a run fail."""
    missing = _missing(config)
    if os.environ.get(NO_SKIPS) == "1" and missing:
        terminalreporter.section("skipped where nothing may be skipped", red=True)
        for reason in missing:
            terminalreporter.line(reason, red=True)


@pytest.fixture(scope="session")
def chromium_path() -> Iterator[str]:
    """Give the path of a Chromium, or skip the test that asked."""
    named = os.environ.get("LABSYS_CHROMIUM") or next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)
    if named is None:
        pytest.skip("no Chromium on this machine: apt-get install -y chromium")
    yield named


def pytest_configure() -> None:
    """Let transactional tests empty append-only tables."""
    flushing.install()


MAKE_WHAT_IS_OWED = """
from django.utils import timezone
from instruments.certificates.tasks import sweep
while sum(done := sweep(timezone.now())):
    assert not done[1], f"{done[1]} files can't be made"
"""


@pytest.fixture(scope="session")
def prepared_stack(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    """Give a stack that isn't running, with the demo laboratory loaded; tests start copies of it.

    Loading takes a minute, so it is done by the first process of a run that asks, and undone by the last.
    """
    is_shared = "PYTEST_XDIST_WORKER" in os.environ
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if is_shared else base) / "prepared"
    run = os.environ.get("PYTEST_XDIST_TESTRUNUID", f"{os.getpid()}")[:12]
    made = Stack(folder / "stack", Database(os.environ.get("DATABASE_URL", ""), f"labsys_stack_{run}"))
    with _alone_in(folder) as users:
        if not users:
            _prepare(made)
        users.add(os.getpid())
    yield made
    with _alone_in(folder) as users:
        users.discard(os.getpid())
        if not users:
            made.remove()


def _prepare(made: Stack) -> None:
    made.database.make()
    made.folder.mkdir()
    # Every copy would make the files of the demo's certificates anew, beside what its test is about.
    for command in (("demo", "--prepare"), ("shell", "--no-imports", "-c", MAKE_WHAT_IS_OWED)):
        done = made.manage(*command)
        assert done.returncode == 0, done.stdout + done.stderr


@contextmanager
def _alone_in(folder: Path) -> Iterator[set[int]]:
    """Let one process at a time work on what lies in a folder; gives the processes that use it, to be changed."""
    folder.mkdir(exist_ok=True)
    with (folder / "users").open("a+") as listed:
        fcntl.flock(listed, fcntl.LOCK_EX)
        listed.seek(0)
        users = {int(pid) for pid in listed.read().split()}
        yield users
        listed.truncate(0)
        listed.write(" ".join(map(str, sorted(users))))


@pytest.fixture(scope="session")
def stack(prepared_stack: Stack) -> Iterator[Stack]:
    """Give one running stack that tests share; each makes its own gauges and leaves the others' alone."""
    running = prepared_stack.copy(prepared_stack.folder.parent / f"shared-{os.getpid()}")
    running.start()
    yield running
    running.remove()
