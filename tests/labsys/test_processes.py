"""Each process is started by one command, and that command holds what was learnt the hard way."""

from __future__ import annotations

from typing import NoReturn

import pytest
from django.core.management import call_command
from pytest_django import Settings


class Became(Exception):
    """Stands for the process that execv would have become."""


@pytest.fixture
def became(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Give the command that this process was to become."""
    command: list[str] = []

    def execv(_path: str, arguments: list[str]) -> NoReturn:
        command.extend(arguments)
        raise Became

    monkeypatch.setattr("os.execv", execv)
    monkeypatch.setattr("os.chdir", lambda _path: None)
    return command


def run(*arguments: str) -> None:
    with pytest.raises(Became):
        call_command("run", *arguments)


def test_web_serves_with_as_many_processes_as_the_environment_says(
    became: list[str], settings: Settings
) -> None:
    settings.PROCESSES = 3
    run("web", "--host", "::1", "--port", "8100")
    assert became[became.index("--workers") + 1] == "3"
    assert became[became.index("--bind") + 1] == "[::1]:8100"
    assert "--no-control-socket" in became
    assert "--preload" not in became


def test_a_worker_has_no_clock_and_the_clock_is_no_worker(became: list[str]) -> None:
    run("worker")
    assert "worker" in became and "--beat" not in became
    became.clear()
    run("clock")
    assert "beat" in became and "worker" not in became
