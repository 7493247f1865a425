"""Style and types hold in the whole tree, and the tools that say so can say no."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.rules import tree

CONFIG = str(tree.ROOT / "pyproject.toml")
CHECKS = {
    "style": ["ruff", "check", "--config", CONFIG],
    "form": ["ruff", "format", "--check", "--config", CONFIG],
    "types": ["mypy", "--config-file", CONFIG],
}
FAULTS = {
    "style": '"""Counts."""\nimport os\n',
    "form": '"""Counts."""\nx = { }\n',
    "types": '"""Counts."""\n\n\ndef count(items):\n    return len(items)\n',
}


def run(check: str, target: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", *CHECKS[check], target]
    return subprocess.run(command, cwd=tree.ROOT, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("check", CHECKS)
def test_the_tree_is_clean(check: str) -> None:
    done = run(check, ".")
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]


@pytest.mark.parametrize("check", CHECKS)
def test_a_fault_is_noticed(check: str, tmp_path: Path) -> None:
    (tmp_path / "faulty.py").write_text(FAULTS[check])
    assert run(check, str(tmp_path / "faulty.py")).returncode == 1
