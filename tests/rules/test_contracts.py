"""The contracts between rooms hold, name every room, and would notice a breach."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.rules import tree

TOPIC_FILES = {"models", "queries", "operations", "access", "forms", "filters", "views", "api", "tasks"}


def lint(root: Path) -> subprocess.CompletedProcess[str]:
    """Run the contracts over a tree."""
    script = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    command = [sys.executable, "-c", script, "--no-logo", "--no-cache"]
    return subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)


def copy_of_the_apps(folder: Path) -> Path:
    for path in tree.files():
        name = path.relative_to(tree.ROOT)
        if (name.parts[0] in tree.APPS and name.suffix == ".py") or str(name) == "pyproject.toml":
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, folder / name)
    return folder


def test_every_contract_is_kept() -> None:
    done = lint(tree.ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


BREACHES = [
    ("labsys/errors.py", "import instruments.inventory.models", "Instruments stand on standards"),
    ("labsys/journal/door.py", "import labsys.accounts.models", "Inside the site"),
    ("standards/register/models.py", "import standards.traceability.models", "Inside standards"),
    ("instruments/inventory/models.py", "import instruments.recall.models", "Inside instruments"),
    ("labsys/metrology/units.py", "import django.utils", "Metrology is pure"),
    ("labsys/accounts/models.py", "import labsys.accounts.operations", "Inside a topic"),
    ("instruments/extra/__init__.py", '"""A room that no contract knows."""', "Inside instruments"),
]


@pytest.mark.parametrize(("module", "line", "contract"), BREACHES)
def test_a_breach_is_noticed(tmp_path: Path, module: str, line: str, contract: str) -> None:
    root = copy_of_the_apps(tmp_path)
    (root / module).parent.mkdir(exist_ok=True)
    with (root / module).open("a") as source:
        source.write(f"\n{line}\n")
    done = lint(root)
    assert done.returncode != 0
    assert contract in done.stdout.split("Broken contracts")[1]


def test_every_topic_stands_in_the_contract_of_topics() -> None:
    contracts = {item["id"]: item for item in tree.project()["tool"]["importlinter"]["contracts"]}
    named = set(contracts["topics"]["containers"])
    found = set()
    for name, _text, _module in tree.sources():
        parts = Path(name).with_suffix("").parts
        if len(parts) >= 3 and parts[2] in TOPIC_FILES and parts[1] != "metrology":
            found.add(f"{parts[0]}.{parts[1]}")
    assert found - named == set(), "add these to the contract “topics” in pyproject.toml"


def test_every_contract_is_explained() -> None:
    explained = tree.section("DEVELOPERS.md", "Contracts")
    for contract in tree.project()["tool"]["importlinter"]["contracts"]:
        assert contract["name"] in explained
