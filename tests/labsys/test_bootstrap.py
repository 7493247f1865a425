"""The first step makes one whole environment, once, and says in one line what it lacks."""

from __future__ import annotations

import ast
import fcntl
import re
import subprocess
import sys
import threading
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest

from labsys import bootstrap

ROOT = Path(__file__).resolve().parents[2]
MANAGE = (ROOT / "manage.py").read_text()


class Replaced(Exception):
    """Stands for the process that execv would have become."""


@pytest.fixture
def replaced(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Give the commands that this process was to be replaced by."""
    commands: list[list[str]] = []

    def execv(_path: str, command: list[str]) -> NoReturn:
        commands.append(command)
        raise Replaced

    monkeypatch.setattr("os.execv", execv)
    monkeypatch.setattr("os.chdir", lambda _path: None)
    return commands


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a house with two locks and no environment, entered from an interpreter that isn't its own."""
    (tmp_path / bootstrap.RUNTIME_LOCK).write_text("django==5.2.0\n")
    (tmp_path / bootstrap.TEST_LOCK).write_text("django==5.2.0\npytest==9.0.0\n")
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(sys, "prefix", str(tmp_path / "elsewhere"))
    monkeypatch.delenv("LABSYS_BOOTSTRAP", raising=False)
    return tmp_path


def make(house: Path, lock: str) -> None:
    """Put an environment in place as a finished installer leaves it."""
    python = house / ".venv" / "bin" / "python"
    python.parent.mkdir(parents=True, exist_ok=True)
    python.touch()
    (house / ".venv" / bootstrap.STAMP).write_text(bootstrap.stamp_text(lock) + "\n")


def installer(house: Path, *, fails: bool = False) -> Callable[[list[str]], None]:
    def run(command: list[str]) -> None:
        assert not (house / ".venv" / bootstrap.STAMP).exists(), "a stamp during an installation is a lie"
        (house / ".venv" / "bin").mkdir(parents=True, exist_ok=True)
        (house / ".venv" / "bin" / "python").touch()
        if fails and "pip" in command:
            raise subprocess.CalledProcessError(1, command)

    return run


def test_an_old_python_can_read_the_command_that_refuses_it() -> None:
    ast.parse(MANAGE, feature_version=(3, 4))


def test_an_old_python_is_told_which_one_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["requires-python"]
    monkeypatch.setattr(sys, "version_info", (3, 8, 1))
    with pytest.raises(SystemExit) as refused:
        exec(compile(MANAGE, "manage.py", "exec"), {"__name__": "__main__"})
    assert wanted == ">=3.11"
    assert str(refused.value).startswith("labsys needs Python 3.11 or newer; this is 3.8.")


@pytest.mark.parametrize(
    ("lock", "testing", "whole"),
    [
        (bootstrap.RUNTIME_LOCK, False, True),
        (bootstrap.TEST_LOCK, False, True),
        (bootstrap.TEST_LOCK, True, True),
        (bootstrap.RUNTIME_LOCK, True, False),
    ],
)
def test_the_test_environment_serves_every_command(
    house: Path, lock: str, testing: bool, whole: bool
) -> None:
    make(house, lock)
    assert bootstrap.holds(house / ".venv", testing=testing) is whole


def test_a_changed_lock_ends_an_environment(house: Path) -> None:
    make(house, bootstrap.RUNTIME_LOCK)
    (house / bootstrap.RUNTIME_LOCK).write_text("django==5.2.1\n")
    assert not bootstrap.holds(house / ".venv", testing=False)


def test_a_whole_environment_is_entered_as_it_is(
    house: Path, replaced: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    make(house, bootstrap.RUNTIME_LOCK)
    monkeypatch.setattr(bootstrap, "_run", lambda _command: pytest.fail("nothing was to be installed"))
    with pytest.raises(Replaced):
        bootstrap.prepare(["manage.py", "check", "--deploy"])
    assert replaced == [[str(house / ".venv" / "bin" / "python"), "manage.py", "check", "--deploy"]]


@pytest.mark.parametrize(
    ("command", "lock"), [("check", bootstrap.RUNTIME_LOCK), ("test", bootstrap.TEST_LOCK)]
)
def test_a_missing_environment_is_made_from_the_lock_the_command_needs(
    house: Path, replaced: list[list[str]], monkeypatch: pytest.MonkeyPatch, command: str, lock: str
) -> None:
    monkeypatch.setattr(bootstrap, "_run", installer(house))
    with pytest.raises(Replaced):
        bootstrap.prepare(["manage.py", command])
    assert (house / ".venv" / bootstrap.STAMP).read_text().strip() == bootstrap.stamp_text(lock)


def test_a_half_made_environment_does_not_stay(house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bootstrap, "_run", installer(house, fails=True))
    with pytest.raises(SystemExit, match="could not be prepared: pip ended with code 1"):
        bootstrap.prepare(["manage.py", "check"])
    assert not (house / ".venv").exists()


def test_a_failed_change_of_a_lock_leaves_no_stamp(house: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make(house, bootstrap.TEST_LOCK)
    (house / bootstrap.TEST_LOCK).write_text("pytest==9.0.1\n")
    monkeypatch.setattr(bootstrap, "_usable", lambda _python: True)
    monkeypatch.setattr(bootstrap, "_run", installer(house, fails=True))
    with pytest.raises(SystemExit):
        bootstrap.prepare(["manage.py", "test"])
    assert not (house / ".venv" / bootstrap.STAMP).exists()
    assert (house / ".venv").exists()


def test_two_starts_make_one_environment(
    house: Path,
    replaced: list[list[str]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(bootstrap, "_run", lambda _command: pytest.fail("the other start was making it"))
    (house / "var").mkdir()
    waiting = threading.Event()
    monkeypatch.setattr(bootstrap, "_say", lambda _sentence: waiting.set())
    with (house / "var" / "bootstrap.lock").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)

        def finish() -> None:
            waiting.wait(10)
            make(house, bootstrap.RUNTIME_LOCK)
            fcntl.flock(held, fcntl.LOCK_UN)

        other = threading.Thread(target=finish)
        other.start()
        with pytest.raises(Replaced):
            bootstrap.prepare(["manage.py", "check"])
        other.join()
    assert waiting.is_set()
    assert len(replaced) == 1


def test_a_prepared_interpreter_is_taken_as_it_is(
    house: Path, replaced: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LABSYS_BOOTSTRAP", "0")
    bootstrap.prepare(["manage.py", "check"])
    assert replaced == []
    with pytest.raises(Replaced):
        bootstrap.prepare(["manage.py", "test", "-k", "bench", "-x"])
    assert replaced == [[sys.executable, "-m", "pytest", "-k", "bench", "-x"]]


@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="only on Linux: libraries by their file names"
)
def test_what_the_system_lacks_is_one_line_to_type(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        bootstrap, "SYSTEM_LIBRARIES", {"libnothing.so.0": "libnothing0", "libc.so.6": "libc6"}
    )
    monkeypatch.setattr("shutil.which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr("os.geteuid", lambda: 0)
    with pytest.raises(SystemExit) as refused:
        bootstrap.prepare(["manage.py", "demo"])
    last = str(refused.value).splitlines()[-1]
    assert last == "apt-get install -y --no-install-recommends libnothing0"


def test_installers_leave_standard_output_alone() -> None:
    command = "from labsys import bootstrap; import sys; bootstrap._run([sys.executable, '-c', 'print(1)'])"
    done = subprocess.run(
        [sys.executable, "-c", command], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert (done.stdout, done.stderr) == ("", "1\n")


def test_nothing_but_the_standard_library_is_imported_before_the_environment_is_there() -> None:
    source = (ROOT / "labsys" / "bootstrap.py").read_text()
    names = re.findall(r"^(?:from|import) ([a-z_]+)", source, flags=re.MULTILINE)
    assert names
    assert set(names) <= sys.stdlib_module_names


@pytest.mark.parametrize(
    ("cores", "options"),
    [(1, []), (2, ["-n", "2", "--dist", "loadfile"]), (64, ["-n", "4", "--dist", "loadfile"])],
)
def test_all_tests_run_side_by_side_where_there_are_cores(cores: int, options: list[str]) -> None:
    assert bootstrap.side_by_side(cores) == options
