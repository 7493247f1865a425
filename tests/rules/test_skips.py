"""A run that promised to have everything there can't pass with something skipped."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SUITE = """
import pytest

def test_passes():
    assert True

def test_skipped():
    pytest.skip({reason!r})
"""


def run(folder: Path, reason: str, no_skips: str) -> subprocess.CompletedProcess[str]:
    """Run a small suite under the house's conftest in a process of its own."""
    (folder / "conftest.py").write_text((ROOT / "tests" / "conftest.py").read_text())
    (folder / "test_small.py").write_text(SUITE.format(reason=reason))
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:django",
        "-c",
        os.devnull,
        f"--rootdir={folder}",
        ".",
    ]
    environment = {**os.environ, "LABSYS_NO_SKIPS": no_skips, "PYTHONPATH": str(ROOT)}
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("reason", "no_skips", "code"),
    [
        ("no Chromium on this machine", "1", 1),
        ("no Chromium on this machine", "0", 0),
        ("only on PostgreSQL: row locks", "1", 0),
    ],
)
def test_a_skip_fails_where_nothing_may_be_missing(
    tmp_path: Path, reason: str, no_skips: str, code: int
) -> None:
    done = run(tmp_path, reason, no_skips)
    assert done.returncode == code, done.stdout
    assert (reason in done.stdout.split("nothing may be skipped")[-1]) == (code == 1)
