"""The containers run this program: its commands, its settings, its libraries, its Python."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import load_command_class

from labsys import bootstrap, env
from tests.rules import tree

COMPOSE: dict[str, Any] = yaml.safe_load((tree.ROOT / "docker-compose.yml").read_text())
DOCKERFILE = (tree.ROOT / "Dockerfile").read_text()
OURS = {name: service for name, service in COMPOSE["services"].items() if service.get("image") == "labsys"}
# Set in the image, or meant for one process on one machine.
IN_THE_IMAGE = {"LABSYS_VAR"}
NEVER_IN_CONTAINERS = {"LABSYS_DEBUG"}


def test_the_grown_up_form_has_all_its_parts() -> None:
    assert set(OURS) == {"setup", "web", "worker", "clock"}
    assert set(COMPOSE["services"]) == {*OURS, "database", "broker", "mail"}
    assert COMPOSE["services"]["mail"]["profiles"] == ["trial"]


@pytest.mark.parametrize("name", OURS)
def test_every_setting_is_one_of_ours_and_none_is_forgotten(name: str) -> None:
    known = {variable.name for variable in env.VARIABLES}
    assert set(OURS[name]["environment"]) == known - IN_THE_IMAGE - NEVER_IN_CONTAINERS


def test_the_containers_defaults_are_a_sound_environment() -> None:
    default = re.compile(r"\$\{([A-Z_]+):(?:-([^}]*)|\?[^}]*)\}")
    values = {
        name: default.sub(lambda match: match.group(2) or "x" * 50 * (match.group(2) is None), str(text))
        for name, text in OURS["web"]["environment"].items()
    }
    read = env.read(values)
    assert read["LABSYS_PROCESSES"] == 2
    assert read["DATABASE_URL"].startswith("postgres://labsys:")


@pytest.mark.parametrize("name", OURS)
def test_every_command_is_one_of_ours(name: str) -> None:
    python, manage, command, *rest = OURS[name]["command"]
    assert (python, manage) == ("python", "manage.py")
    assert (tree.ROOT / "labsys" / "management" / "commands" / f"{command}.py").exists()
    parser = load_command_class("labsys", command).create_parser("manage.py", command)
    parser.parse_args(rest)


def test_the_image_brings_what_the_first_step_asks_for() -> None:
    step = DOCKERFILE.split("apt-get install", 1)[1].split("&&", 1)[0]
    packages = set(re.findall(r"\blib[a-z0-9.-]+", step))
    assert packages == set(bootstrap.SYSTEM_LIBRARIES.values())


def test_the_images_python_is_new_enough() -> None:
    found = re.search(r"^FROM python:(\d+)\.(\d+)-", DOCKERFILE, flags=re.MULTILINE)
    assert found is not None
    assert tree.project()["project"]["requires-python"] == ">=3.11"
    assert (int(found.group(1)), int(found.group(2))) >= (3, 11)


def test_everything_copied_exists_and_may_enter_the_image() -> None:
    let_in = {
        line[1:] for line in (tree.ROOT / ".dockerignore").read_text().splitlines() if line.startswith("!")
    }
    copied = [
        name
        for line in re.findall(r"^COPY (.+) \S+$", DOCKERFILE, flags=re.MULTILINE)
        for name in line.split()
    ]
    assert set(copied) == let_in
    assert [name for name in copied if not (tree.ROOT / name).exists()] == []


def test_nothing_runs_as_the_administrator() -> None:
    _comment, *stages = DOCKERFILE.split("\nFROM ")
    assert len(stages) == 2
    for stage in stages:
        assert re.findall(r"^USER (\S+)$", stage, flags=re.MULTILINE)[-1] == "laboratory"


def test_passwords_come_from_outside() -> None:
    text = Path(tree.ROOT / "docker-compose.yml").read_text()
    for name in ("LABSYS_SECRET_KEY", "POSTGRES_PASSWORD"):
        assert f"${{{name}:?" in text
        assert f"${{{name}:-" not in text
