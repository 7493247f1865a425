"""What every test run shares: what a skipped test means, where a browser is, the whole program as one stack.

People and gauges come from the topics' own conftest files.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator

import pytest

from labsys.bootstrap import CHROMIUM_NAMES
from tests import flushing
from tests.prepared import Prepared, is_asked_for
from tests.stack import Stack

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


@pytest.fixture(scope="session", autouse=True)
def demo_laboratory(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Prepared | None]:
    """Load the demo laboratory, which takes a minute or two, beside the first tests where a later one asks for it."""
    if not is_asked_for(request.session.items):
        yield None
        return
    prepared = Prepared.of_this_run(tmp_path_factory.getbasetemp())
    prepared.begin()
    yield prepared
    prepared.end()


@pytest.fixture(scope="session")
def prepared_stack(demo_laboratory: Prepared | None) -> Stack:
    """Give a stack that isn't running, with the demo laboratory loaded; tests start copies of it."""
    assert demo_laboratory is not None
    return demo_laboratory.wait()


@pytest.fixture(scope="session")
def stack(prepared_stack: Stack) -> Iterator[Stack]:
    """Give one running stack that tests share; each makes its own gauges and leaves the others' alone."""
    running = prepared_stack.copy(prepared_stack.folder.parent / f"shared-{os.getpid()}")
    running.start()
    yield running
    running.remove()
