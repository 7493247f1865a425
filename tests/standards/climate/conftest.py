"""A thermometer in the cabinet's place, and somebody who adds to its log."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest

from labsys.accounts.models import Person
from standards.climate.models import LogUpload
from standards.climate.operations import log_file
from standards.register.models import Standard
from tests.standards.conftest import at

NOW = at("2025-06-10", 12)


@pytest.fixture
def thermometer(make_standard: Callable[..., Standard]) -> Standard:
    return make_standard("T-01", kind="thermometer", name="Room thermometer", elements=())


@pytest.fixture
def add(thermometer: Standard, technician: Person) -> Callable[..., LogUpload]:
    """Add a text as a logger's file."""

    def do(text: str, now: datetime = NOW, **more: Any) -> LogUpload:
        content = text.encode(more.get("encoding", "utf-8"))
        return log_file(sensor=thermometer, name="log.csv", content=content, by=technician, now=now)

    return do
