"""Processes are kept, restarted and ended, however the end comes."""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from labsys import supervisor

# A service with a child of its own in its group, as a worker pool has: both write their numbers down.
SERVICE = """
import os, pathlib, signal, sys, time
child = os.fork()
with open(sys.argv[1], "a") as pids:
    pids.write(f"{os.getpid()}\\n")
while True:
    time.sleep(0.05)
"""
# A supervisor in a process of its own, so that it can be killed.
STARTER = """
import pathlib, sys
from labsys.supervisor import Service, Supervisor
folder = pathlib.Path(sys.argv[1])
service = Service("sleeper", (sys.executable, "-c", sys.argv[2], str(folder / "pids")), patience_s=30)
sys.exit(Supervisor([service], environment={}, logs=folder, say=print).run(once_up=lambda: print("up", flush=True)))
"""
ROOT = Path(__file__).resolve().parents[2]


def until(holds: Callable[[], bool], *, within_s: float = 10.0) -> bool:
    """Wait for something to become true; tell whether it did in time."""
    end = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


def lives(pid: int) -> bool:
    """Tell whether a process runs; one that nobody has collected yet is dead."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def pids(folder: Path) -> list[int]:
    path = folder / "pids"
    return [int(line) for line in path.read_text().splitlines()] if path.exists() else []


def leader(folder: Path) -> int:
    """Give the service itself; its child may have written its number first."""
    (found,) = (pid for pid in pids(folder) if os.getpgid(pid) == pid)
    return found


@pytest.fixture
def started(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-c", STARTER, str(tmp_path), SERVICE]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert process.stdout is not None and process.stdout.readline() == "up\n"
    assert until(lambda: len(pids(tmp_path)) == 2)
    yield process
    for pid in [process.pid, *pids(tmp_path)]:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
    process.communicate()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_ends_everything_in_order(
    started: subprocess.Popen[str], tmp_path: Path, number: signal.Signals
) -> None:
    started.send_signal(number)
    assert started.wait(10) == 0
    assert until(lambda: not any(map(lives, pids(tmp_path))))


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only on Linux: the kernel tells children")
def test_children_end_when_the_supervisor_is_killed(started: subprocess.Popen[str], tmp_path: Path) -> None:
    service = leader(tmp_path)
    started.kill()
    assert until(lambda: not lives(service))


def test_a_killed_service_is_started_again_and_leaves_nothing(
    started: subprocess.Popen[str], tmp_path: Path
) -> None:
    first = pids(tmp_path)
    os.kill(leader(tmp_path), signal.SIGKILL)
    assert until(lambda: len(pids(tmp_path)) == 4)
    assert until(lambda: not any(map(lives, first)))
    assert all(map(lives, pids(tmp_path)[2:]))


def test_a_service_that_keeps_ending_is_given_up(tmp_path: Path) -> None:
    said: list[str] = []
    failing = supervisor.Service("broken", (sys.executable, "-S", "-c", "raise SystemExit(3)"))
    running = supervisor.Supervisor([failing], environment={}, logs=tmp_path, say=said.append)
    assert running.run() == 1
    assert len(said) == supervisor.MOST_RESTARTS + 1
    assert "keeps ending (code 3)" in said[-1]


def test_a_service_that_will_not_end_is_killed(tmp_path: Path) -> None:
    deaf = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print(1, flush=True); time.sleep(60)"
    said: list[str] = []
    service = supervisor.Service("deaf", (sys.executable, "-S", "-c", deaf), patience_s=0.2)
    running = supervisor.Supervisor([service], environment={}, logs=tmp_path, say=said.append)

    def once_up() -> None:
        assert until(lambda: (tmp_path / "deaf.log").read_bytes() == b"1\n")
        os.kill(os.getpid(), signal.SIGTERM)

    assert running.run(once_up=once_up) == 0
    assert said == ["The deaf process did not end in time and is killed."]


def test_a_taken_port_is_named_with_what_to_do() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(supervisor.PortTaken, match=f"127.0.0.1:{port} .* --port {port + 1}") as refused:
            supervisor.demand_port("127.0.0.1", port)
    assert pickle.loads(pickle.dumps(refused.value)).data == refused.value.data
    supervisor.demand_port("127.0.0.1", port)


def test_one_folder_is_served_once(tmp_path: Path) -> None:
    with (
        supervisor.only_one(tmp_path),
        pytest.raises(supervisor.AlreadyRunning),
        supervisor.only_one(tmp_path),
    ):
        pass
    with supervisor.only_one(tmp_path):
        pass
