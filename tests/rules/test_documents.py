"""What somebody must know to run or change the program is written down, and nothing that isn't there."""

from __future__ import annotations

import re
from pathlib import Path

from labsys import env
from tests.rules import tree

# Read outside env.py: by the first step, which runs before any library, and by the tests.
ELSEWHERE = {
    "LABSYS_BOOTSTRAP": "labsys/bootstrap.py",
    "LABSYS_CHROMIUM": "labsys/bootstrap.py",
    "LABSYS_NO_SKIPS": "tests/conftest.py",
}


def documented(title: str) -> dict[str, str]:
    """Read a table of DEVELOPERS.md: the first column's code to the whole row."""
    rows = re.findall(r"^\| `([^`]+)` \|.*$", tree.section("DEVELOPERS.md", title), flags=re.MULTILINE)
    text = tree.section("DEVELOPERS.md", title)
    return {name: next(row for row in text.splitlines() if row.startswith(f"| `{name}` |")) for name in rows}


def test_every_setting_is_documented_with_its_default() -> None:
    rows = documented("Settings")
    assert set(rows) == {variable.name for variable in env.VARIABLES} | set(ELSEWHERE)
    for variable in env.VARIABLES:
        assert variable.says in rows[variable.name]
        assert f"| {f'`{variable.default}`' if variable.default else 'empty'} |" in rows[variable.name]


def test_variables_read_elsewhere_are_read_there() -> None:
    for name, module in ELSEWHERE.items():
        assert name in (tree.ROOT / module).read_text()


def test_nothing_else_reads_the_environment() -> None:
    allowed = {"labsys/env.py", "labsys/bootstrap.py", "instruments/management/commands/demo.py"}
    reading = {
        name
        for name, text, _module in tree.sources()
        if re.search(r"os\.(environ\b(?!\.setdefault)|getenv)", text)
    }
    assert reading <= allowed


def test_every_command_is_documented() -> None:
    commands = {
        Path(name).stem
        for name, _text, _module in tree.sources()
        if "commands" in Path(name).parts and not name.endswith("__init__.py")
    }
    assert "demo" in commands
    assert set(documented("Commands")) == commands | {"test"}
