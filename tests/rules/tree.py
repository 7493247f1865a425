"""The project's own files, as the rules see them: what git would carry, whatever lies beside it."""

from __future__ import annotations

import ast
import subprocess
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
APPS = ("labsys", "standards", "instruments")
_NOT_OURS = {
    ".venv",
    "var",
    ".git",
    "__pycache__",
    ".mypy_cache",
    ".ruff_cache",
    ".pytest_cache",
    ".hypothesis",
}


@cache
def files() -> tuple[Path, ...]:
    """List every file that belongs to the project, new ones included."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
    try:
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
        found = [ROOT / name for name in done.stdout.split("\0") if name]
    except (OSError, subprocess.CalledProcessError):  # unpacked without its history
        found = [path for path in ROOT.rglob("*") if not _NOT_OURS & set(path.relative_to(ROOT).parts)]
    return tuple(sorted(path for path in found if path.is_file()))


@cache
def texts() -> list[tuple[str, str]]:
    """List the text files as (path from the root, content)."""
    rows = []
    for path in files():
        try:
            rows.append((str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")))
        except (UnicodeDecodeError, FileNotFoundError):  # a picture, or removed while we look
            continue
    return rows


@cache
def sources() -> list[tuple[str, str, ast.Module]]:
    """List the apps' modules, migrations apart, as (path, content, syntax tree)."""
    rows = []
    for name, text in texts():
        parts = Path(name).parts
        if name.endswith(".py") and parts[0] in APPS and "migrations" not in parts:
            rows.append((name, text, ast.parse(text)))
    return rows


def project() -> dict[str, Any]:
    """Read pyproject.toml."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def section(document: str, title: str) -> str:
    """Give the text below a second-level heading of a document, up to the next one."""
    text = (ROOT / document).read_text(encoding="utf-8")
    before, found, rest = text.partition(f"\n## {title}\n")
    assert found, f"{document} has no section “{title}”"
    return rest.split("\n## ", 1)[0]
