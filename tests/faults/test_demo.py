"""The demo starts, says where to go, survives the death of its parts and leaves nothing running."""

from __future__ import annotations

import os
import signal
import socket
import sys
import urllib.request
from collections.abc import Iterator

import pytest

from instruments.desk.demo import people
from tests.stack import Stack, children, command_line, lives, until

pytestmark = pytest.mark.faults


@pytest.fixture
def own_stack(prepared_stack: Stack, request: pytest.FixtureRequest) -> Iterator[Stack]:
    """Give a copy that this test alone starts and kills."""
    copy = prepared_stack.copy(prepared_stack.folder.parent / request.node.name[:40])
    yield copy
    copy.remove()


def test_a_second_start_only_starts_and_says_who_to_be(own_stack: Stack) -> None:
    own_stack.start()
    said = "".join(own_stack.output)
    assert f"The demo laboratory runs at {own_stack.address}" in said
    assert "Loading" not in said
    for person in people.PEOPLE:
        assert f"{person.username} " in said and person.password in said
    with urllib.request.urlopen(f"{own_stack.address}/account/login/") as page:
        assert page.status == 200

    # The clock starts by waking every sweep once.
    assert until(own_stack.ticks, within_s=60), own_stack.logs()

    # A second clock on the same records would wake everything twice.
    refused = own_stack.manage("demo", "--port", "1", "--no-browser")
    assert refused.returncode == 1
    assert "already runs from" in refused.stderr

    web, worker = own_stack.child("gunicorn"), own_stack.child("celery")
    assert own_stack.stop() == 0
    assert not lives(web) and not lives(worker)
    assert not own_stack.answers()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only on Linux: the kernel tells children")
def test_dead_parts_are_replaced_and_none_outlives_the_supervisor(own_stack: Stack) -> None:
    own_stack.start()
    assert own_stack.process is not None
    web, worker = own_stack.child("gunicorn"), own_stack.child("celery")
    os.kill(web, signal.SIGKILL)
    os.kill(worker, signal.SIGKILL)
    assert until(lambda: own_stack.child("gunicorn") not in {0, web})
    assert until(lambda: own_stack.child("celery") not in {0, worker})
    assert until(own_stack.answers, within_s=30), own_stack.logs()

    # Killed again in the middle of its first work, with the clock inside it.
    parts = [own_stack.child("gunicorn"), own_stack.child("celery")]
    assert until(lambda: len(children(parts[1])) == 1, within_s=60), own_stack.logs()
    parts += children(parts[1])
    own_stack.process.kill()
    own_stack.process.wait()
    assert until(lambda: not any(map(lives, parts)), within_s=15), [
        command_line(pid) for pid in parts if lives(pid)
    ]
    assert not own_stack.answers()


def test_a_taken_port_is_named_before_anything_is_set_up(prepared_stack: Stack) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        refused = prepared_stack.manage("demo", "--port", str(port), "--no-browser")
    assert refused.returncode == 1
    assert f"python3 manage.py demo --port {port + 1}" in refused.stderr
    assert refused.stdout == ""
