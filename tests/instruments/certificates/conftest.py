"""A laboratory whose standards have certificates, its caliper, and a session that only wants signing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from instruments.certificates.models import Certificate
from instruments.certificates.operations import sign_off
from instruments.inventory.models import Gauge
from instruments.measuring.models import Submission
from labsys.pages import fonts
from tests import laboratory
from tests.bench import Player, _zone, bring, player, sit
from tests.instruments.certificates.traced import traced_lab
from tests.laboratory import Lab, proof
from tests.once import made_once

__all__ = ["_zone", "bring", "player", "sit"]


@pytest.fixture(scope="session")
def type_is_built() -> None:
    """The renderer's fonts, made once for the whole run."""
    fonts.build()


@pytest.fixture(autouse=True)
def _files(settings: Any, tmp_path: Path) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path / "files"
    yield


@pytest.fixture(scope="module")
def first_day(request: pytest.FixtureRequest) -> Iterator[Callable[[], Lab]]:
    with made_once(request, traced_lab) as own:
        yield own


@pytest.fixture
def lab(first_day: Callable[[], Lab], db: None) -> Lab:
    return first_day()


@pytest.fixture
def gauge(lab: Lab) -> Gauge:
    laboratory.agreed(lab)
    return laboratory.caliper_gauge(lab, laboratory.caliper_model(lab))


@pytest.fixture
def submission(player: Player) -> Submission:
    player.begin()
    player.read_off()
    return player.finish()


@pytest.fixture
def signed(lab: Lab, submission: Submission) -> Certificate:
    """The certificate of a caliper without a fault, numbered, its file still owed."""
    return sign(lab, submission)


def sign(lab: Lab, submission: Submission) -> Certificate:
    """Let the reviewer sign a submission off at the moment it was handed in."""
    now = submission.submitted_at
    return sign_off(submission=submission, proof=proof(lab.reviewer, now), by=lab.reviewer, now=now)


@pytest.fixture
def sitting(lab: Lab, sit: Callable[..., Player]) -> Callable[..., Submission]:
    """Measure a gauge with so many steps of error at each point, and hand in."""

    def do(gauge: Gauge, steps: Callable[[Any], int] = lambda point: 0) -> Submission:
        one = sit(gauge)
        one.begin()
        one.read_off(steps)
        return one.finish()

    return do
