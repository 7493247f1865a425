"""The first step: makes ``.venv`` with exactly the locked packages, once, and runs the command in it.

Standard library only; nothing of Django and nothing of ours is imported here. ``manage.py`` has checked the Python.
The stamp inside an environment says which lock it holds; it is removed before an installer starts and written when
it has finished, so an environment with a stamp is whole. An environment that isn't ours is never installed into.
"""

from __future__ import annotations

import ctypes
import fcntl
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = "labsys.stamp"
RUNTIME_LOCK = "requirements.lock"
TEST_LOCK = "requirements-dev.lock"
MOST_TEST_PROCESSES = 4
"""More start as many demo laboratories and browsers at once, and gain little."""

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")

# What the renderer loads at run time, by the file name the loader looks for, and the Debian package that brings it.
# Without harfbuzz-subset documents still come, at less than half the speed, so it is asked for like the others.
# No font package: the fonts of pages and certificates come with the locked packages.
SYSTEM_LIBRARIES = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libfontconfig.so.1": "libfontconfig1",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
}


def prepare(argv: list[str]) -> None:
    """Return where the running interpreter can run the command; otherwise replace this process by one that can.

    ``test`` becomes pytest with the options that follow. Exits with the one line to type where the system lacks
    something.
    """
    command = argv[1] if len(argv) > 1 else ""
    testing = command == "test"
    if command in {"demo", "test"}:
        _demand_libraries()
    if os.environ.get("LABSYS_BOOTSTRAP") != "0" and not holds(Path(sys.prefix), testing=testing):
        _continue_in_venv(argv, testing=testing)
    if testing:
        _notice_browser()
        os.chdir(ROOT)
        options = argv[2:] or side_by_side(os.cpu_count() or 1)
        os.execv(sys.executable, [sys.executable, "-m", "pytest", *options])


def side_by_side(cores: int) -> list[str]:
    """Give the options that run all tests on several cores, each file in one process; none on a single core."""
    workers = min(cores, MOST_TEST_PROCESSES)
    return ["-n", str(workers), "--dist", "loadfile"] if workers > 1 else []


def stamp_text(lock: str) -> str:
    """Give the stamp of a lock for the running interpreter: its content, the Python and the platform, hashed."""
    digest = hashlib.sha256((ROOT / lock).read_bytes())
    digest.update(f"{sys.implementation.cache_tag} {sysconfig.get_platform()}".encode())
    return digest.hexdigest()


def holds(prefix: Path, *, testing: bool) -> bool:
    """Tell whether the environment at ``prefix`` is whole; the test lock holds everything the program runs with."""
    try:
        found = (prefix / STAMP).read_text(encoding="ascii").strip()
    except FileNotFoundError:
        return False
    accepted = {stamp_text(TEST_LOCK)} if testing else {stamp_text(TEST_LOCK), stamp_text(RUNTIME_LOCK)}
    return found in accepted


def _continue_in_venv(argv: list[str], *, testing: bool) -> None:
    python = VENV / "bin" / "python"
    if not (holds(VENV, testing=testing) and python.exists()):
        with _one_at_a_time():
            # The start that held the lock before may have made just this environment.
            if not (holds(VENV, testing=testing) and python.exists()):
                _make(TEST_LOCK if testing else RUNTIME_LOCK, python)
    # The child takes the environment as found: whatever a stamp says there, it never starts over in a circle.
    os.environ["LABSYS_BOOTSTRAP"] = "0"
    os.execv(python, [str(python), *argv])


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    folder = ROOT / "var"
    folder.mkdir(exist_ok=True)
    with (folder / "bootstrap.lock").open("w") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            _say("Another start is preparing .venv; waiting for it.")
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def _make(lock: str, python: Path) -> None:
    if importlib.util.find_spec("ensurepip") is None:
        _ask_for([f"python{sys.version_info.major}.{sys.version_info.minor}-venv"])
    fresh = not _usable(python)
    (VENV / STAMP).unlink(missing_ok=True)
    _say(f"Preparing .venv with the packages of {lock}: once, about a minute.")
    try:
        if fresh:
            _run([sys.executable, "-m", "venv", "--clear", str(VENV)])
        _run([str(python), "-m", "pip", "install", *_PIP_OPTIONS, "-r", str(ROOT / lock)])
    except (subprocess.CalledProcessError, OSError, KeyboardInterrupt) as error:
        if fresh:
            shutil.rmtree(VENV, ignore_errors=True)
        sys.exit(
            f".venv could not be prepared: {_step(error)}. The installer's words are above. "
            "When the package index can be reached, type the same command again."
        )
    (VENV / STAMP).write_text(stamp_text(lock) + "\n", encoding="ascii")


def _step(error: BaseException) -> str:
    """Say in a few words which step failed."""
    if isinstance(error, subprocess.CalledProcessError):
        return f"{error.cmd[2]} ended with code {error.returncode}"  # python -m pip …
    return str(error) or "it was interrupted"


_PIP_OPTIONS = (
    "--quiet",
    "--disable-pip-version-check",
    "--no-input",
    "--require-hashes",
    "--only-binary=:all:",
)


def _usable(python: Path) -> bool:
    """Tell whether the interpreter in .venv starts and is the one that runs now (a system upgrade changes it)."""
    question = "import sys; print(sys.implementation.cache_tag)"
    try:
        answer = subprocess.run([str(python), "-c", question], capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return False
    return answer.stdout.strip() == sys.implementation.cache_tag


def _run(command: list[str]) -> None:
    # Standard output belongs to the command that was asked for.
    subprocess.run(command, stdout=sys.stderr, check=True, cwd=ROOT)


def _demand_libraries() -> None:
    if not sys.platform.startswith("linux"):
        return  # Elsewhere the loader's names differ; the renderer's own check speaks when it is first used.
    missing = [package for library, package in SYSTEM_LIBRARIES.items() if not _loads(library)]
    if missing and importlib.util.find_spec("ensurepip") is None:
        missing.append(f"python{sys.version_info.major}.{sys.version_info.minor}-venv")
    if missing:
        _ask_for(missing)


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _notice_browser() -> None:
    named = os.environ.get("LABSYS_CHROMIUM")
    if not named and not any(shutil.which(name) for name in CHROMIUM_NAMES):
        _say(f"Tests in a browser will be skipped; for them, type: {_install_line(['chromium'])}")


def _ask_for(packages: list[str]) -> None:
    sys.exit(f"The system lacks {', '.join(packages)}. Type, then start again:\n{_install_line(packages)}")


def _install_line(packages: list[str]) -> str:
    if shutil.which("apt-get") is None:
        return f"install with the system's package manager what Debian calls: {' '.join(packages)}"
    sudo = "sudo " if os.geteuid() != 0 and shutil.which("sudo") else ""
    return f"{sudo}apt-get install -y --no-install-recommends {' '.join(sorted(packages))}"


def _say(sentence: str) -> None:
    sys.stderr.write(sentence + "\n")
    sys.stderr.flush()
