"""The core of numbers starts alone, in a process of its own, quickly."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.rules import tree

# scipy.stats costs half a second and 50 MB (measured); scipy and numpy are imported inside functions.
HEAVY = (
    "django",
    "celery",
    "rest_framework",
    "psycopg",
    "sqlite3",
    "scipy",
    "labsys.settings",
    "labsys.journal",
)
SCRIPT = """
import importlib, pkgutil, sys
import labsys.metrology as package
names = [item.name for item in pkgutil.walk_packages(package.__path__, "labsys.metrology.")]
for name in [*names, *sys.argv[1:]]:
    importlib.import_module(name)
print(len(names), *sorted(sys.modules))
"""


def loaded(*extra: str) -> tuple[int, set[str]]:
    command = [sys.executable, "-c", SCRIPT, *extra]
    done = subprocess.run(
        command, cwd=tree.ROOT, capture_output=True, text=True, check=True, env={"PATH": ""}
    )
    count, *names = done.stdout.split()
    return int(count), set(names)


def heavy(names: set[str]) -> list[str]:
    return [item for item in HEAVY if item in names]


def test_metrology_starts_without_framework_or_database() -> None:
    count, names = loaded()
    assert count > 0
    assert heavy(names) == []


@pytest.mark.parametrize("module", ["django", "sqlite3"])
def test_a_heavy_import_would_be_seen(module: str) -> None:
    assert heavy(loaded(module)[1]) == [module]
