"""The room on a certificate where it was noted from a log: its ends, not its mean alone; the soak from being laid."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest

from instruments.certificates.document.text import load
from instruments.inventory.models import Gauge
from instruments.measuring.operations import note_laid
from standards.register.models import Standard
from tests import laboratory
from tests.bench import MORNING, Player
from tests.instruments.certificates.conftest import sign
from tests.instruments.measuring.test_room_log import Logger, take_from_log
from tests.laboratory import Lab

D = Decimal


@pytest.fixture
def thermometer(lab: Lab) -> Standard:
    return laboratory._standard(
        "T-01", "thermometer", "Room thermometer", [laboratory._block("probe", D(1))], lab.bench, lab.manager,
        laboratory.START, deviation="0",
    )  # fmt: skip


def test_a_certificate_gives_what_the_room_went_through(
    sit: Callable[..., Player], gauge: Gauge, lab: Lab, thermometer: Standard
) -> None:
    player = sit(gauge)
    note_laid(session=player.session, since=MORNING + timedelta(minutes=30), by=player.by, now=player.now)
    Logger(thermometer, lab).add(
        (90, "19.6", "44"), (110, "20.6", "52"), (130, "20.1", "48"), (150, "20.1", "48")
    )
    player.look()
    take_from_log(player, thermometer)
    player.zero("as-found")
    player.zero("set")
    player.read_off()
    conditions = load(sign(lab, player.finish()).document).conditions
    assert (conditions.temperature_low_c, conditions.temperature_high_c) == (D("19.6"), D("20.6"))
    assert conditions.humidity == "44 % to 52 %"
    assert conditions.sensors == ("T-01",)
    assert conditions.soak.startswith("Beside the standards for ")
