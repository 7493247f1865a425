"""The processes the program consists of, as commands: one web process with threads, one worker with the clock.

The containers run the same commands (docker-compose.yml), split further.
"""

from __future__ import annotations

import sys

from labsys.supervisor import Service

THREADS = 8


def web(host: str, port: int, *, processes: int = 1) -> Service:
    """Describe the web process that listens on ``host`` and ``port``."""
    address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    # Never --preload: a library loaded before the fork may hang the child. No control socket in a home folder.
    command = (sys.executable, "-m", "gunicorn", "labsys.wsgi:application", "--bind", address)
    options = ("--workers", str(processes), "--threads", str(THREADS), "--no-control-socket")
    return Service("web", command + options + ("--graceful-timeout", "10"))


def worker() -> Service:
    """Describe the worker that takes one task at a time and has the clock inside; only one such may run."""
    command = (sys.executable, "-m", "celery", "-A", "labsys", "worker", "--beat", "--pool", "solo")
    # Nothing asks workers about each other, and over a folder each such question costs a file.
    quiet = ("--without-gossip", "--without-mingle", "--without-heartbeat", "--loglevel", "INFO")
    return Service("worker", command + quiet, patience_s=30.0)
