"""Ties a process's life to its parent's, where the kernel offers that (Linux)."""

from __future__ import annotations

import ctypes
import os
import signal
import sys

_PR_SET_PDEATHSIG = 1  # linux/prctl.h
# Loaded now: between fork and exec nothing may be imported.
_libc = ctypes.CDLL(None, use_errno=True) if sys.platform.startswith("linux") else None


def end_with(parent: int, number: signal.Signals) -> None:
    """Ask the kernel to send this process a signal when its parent dies; elsewhere than on Linux nothing happens."""
    if _libc is None:
        return
    _libc.prctl(_PR_SET_PDEATHSIG, number)
    if os.getppid() != parent:  # It died before we asked.
        os._exit(1)
