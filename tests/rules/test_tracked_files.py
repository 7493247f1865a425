"""Nothing in the tree names a registry or a machine it was made on."""

from __future__ import annotations

import re

import pytest

from tests.rules import tree

# Put together from pieces, so that this file doesn't name what it forbids.
_REGISTRIES = ("py" + "pi.org", "python" + "hosted", "registry.np" + "mjs", "deb.deb" + "ian.org")
_FOLDERS = ("wo" + "rk", "ro" + "ot", "fa" + "rm")
FORBIDDEN = re.compile(
    "|".join([*map(re.escape, _REGISTRIES), rf"(?:^|[\s\"'`(=])/(?:{'|'.join(_FOLDERS)})/"]), re.MULTILINE
)


def test_no_file_names_a_registry_or_a_machine() -> None:
    found = [
        f"{name}: {match.group().strip()}"
        for name, text in tree.texts()
        for match in FORBIDDEN.finditer(text)
    ]
    assert found == []


@pytest.mark.parametrize(
    "line", ["cd /" + "work/main", "--index https://" + "py" + "pi.org/simple", '"/' + 'root/x"']
)
def test_the_search_would_find_one(line: str) -> None:
    assert FORBIDDEN.search(line)


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-dev.lock"])
def test_locks_hold_versions_and_hashes_alone(lock: str) -> None:
    text = (tree.ROOT / lock).read_text()
    assert "://" not in text
    pins = [line for line in text.splitlines() if re.match(r"[A-Za-z0-9]", line)]
    assert len(pins) > 50
    assert all("==" in pin for pin in pins)
    assert text.count("--hash=sha256:") >= len(pins)


def test_the_test_lock_holds_everything_the_program_runs_with() -> None:
    def pins(lock: str) -> set[str]:
        text = (tree.ROOT / lock).read_text()
        return set(re.findall(r"^[A-Za-z0-9][^ \\;]*==[^ \\;]+", text, flags=re.MULTILINE))

    assert pins("requirements.lock") - pins("requirements-dev.lock") == set()


def test_no_tracked_secret() -> None:
    keys = re.compile(r"BEGIN [A-Z ]*PRIVATE KEY")
    assert [
        name for name, text in tree.texts() if keys.search(text) and not name.startswith("tests/rules/")
    ] == []
