"""The clock wakes what the topics ask for, and every task it names exists."""

from __future__ import annotations

import json
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from labsys import env, services


def schedule_of(app: str) -> dict[str, dict[str, Any]]:
    return dict(import_module(f"{app}.tasks").SCHEDULE)


# In a process of its own, started as the worker and the clock start: what is imported when decides what is collected.
SCRIPT = """
import json
from labsys.celery import app
app.loader.init_worker()
print(json.dumps({"schedule": app.conf.beat_schedule, "tasks": sorted(app.tasks)}))
"""


@pytest.fixture(scope="module")
def started() -> dict[str, Any]:
    """Give the schedule and the tasks that a worker has when it has started."""
    command = [sys.executable, "-c", SCRIPT]
    done = subprocess.run(command, cwd=env.ROOT, capture_output=True, text=True, check=True)
    assert "ERROR" not in done.stderr
    return dict(json.loads(done.stdout))


def test_every_apps_schedule_is_collected(started: dict[str, Any]) -> None:
    asked = {key: item for name in settings.OWN_APPS for key, item in schedule_of(name).items()}
    assert started["schedule"] == asked
    assert len(asked) > 3


def test_every_task_that_is_woken_exists(started: dict[str, Any]) -> None:
    assert {item["task"] for item in started["schedule"].values()} <= set(started["tasks"])


def test_two_apps_never_use_one_name_for_two_wakings() -> None:
    names = [key for name in settings.OWN_APPS for key in schedule_of(name)]
    assert len(names) == len(set(names))


def test_without_a_server_a_folder_is_the_broker(tmp_path: Path) -> None:
    found = services.celery("", tmp_path)
    assert found["broker_url"].startswith("filesystem://")
    assert found["broker_transport_options"]["data_folder_in"] == str(tmp_path / "broker")
    # A message read is a message gone from the folder, so in and out are one.
    assert found["broker_transport_options"]["data_folder_out"] == str(tmp_path / "broker")


def test_with_a_server_it_is_the_broker(tmp_path: Path) -> None:
    found = services.celery("redis://127.0.0.1:6379/3", tmp_path)
    assert found["broker_url"] == "redis://127.0.0.1:6379/3"
    assert "broker_transport_options" not in found
    assert found["task_acks_late"] is True
