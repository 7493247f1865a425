"""The processes the program consists of, as commands.

On one machine: one web process with threads, one worker with the clock inside. In containers (docker-compose.yml):
several web processes, workers, and one clock, each started by ``manage.py run``.
"""

from __future__ import annotations

import signal
import sys

from labsys.supervisor import Service

THREADS = 8
_CELERY = (sys.executable, "-m", "celery", "-A", "labsys")
# Nothing asks workers about each other, and over a folder each such question costs a file.
_QUIET = ("--without-gossip", "--without-mingle", "--without-heartbeat", "--loglevel", "INFO")


def web(host: str, port: int, *, processes: int = 1) -> Service:
    """Describe the web server that listens on ``host`` and ``port``."""
    address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    # Never --preload: a library loaded before the fork may hang the child. No control socket in a home folder.
    command = (sys.executable, "-m", "gunicorn", "labsys.wsgi:application", "--bind", address)
    options = ("--workers", str(processes), "--threads", str(THREADS), "--no-control-socket")
    return Service("web", (*command, *options, "--graceful-timeout", "10"))


def worker_with_clock() -> Service:
    """Describe the worker that takes one task at a time and has the clock inside; only one such may run."""
    # An orderly end waits for the task under way, and a batch of certificates takes a while. Whatever is cut short
    # stays owed in the database, so it isn't waited for long, and not at all when nobody is left to wait.
    command = (*_CELERY, "worker", "--beat", "--pool", "solo", *_QUIET)
    return Service("worker", command, patience_s=8.0, orphaned=signal.SIGKILL)


def worker(*, processes: int = 2) -> Service:
    """Describe a worker without the clock; any number of them may run."""
    options = ("--pool", "prefork", "--concurrency", str(processes))
    return Service("worker", (*_CELERY, "worker", *options, *_QUIET), patience_s=30.0)


def clock() -> Service:
    """Describe the clock alone, which wakes the workers' sweeps; only one may run."""
    return Service("clock", (*_CELERY, "beat", "--loglevel", "INFO"))
