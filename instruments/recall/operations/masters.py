"""A gauge and its setting master brought together and parted, so that the standing says so at once."""

from __future__ import annotations

from datetime import datetime

from instruments.inventory import operations as inventory
from instruments.inventory.models import Gauge, Pairing
from instruments.recall.operations.standing import refresh_standing
from labsys.journal.door import Acting, act


@act("recall.pair")
def pair(*, gauge: Gauge, master: Gauge, by: Acting, now: datetime) -> Pairing:
    """Say which setting master belongs to a gauge: from now on one may be used only while the other may.

    Raises what the inventory does: PairedWithItself, AlreadyPaired, PairedInACircle.
    """
    # Held from here on: an act on the master meanwhile waits, and then finds the pair.
    Gauge.objects.select_for_update(of=("self",), no_key=True).get(pk=master.pk)
    row: Pairing = inventory.pair(gauge=gauge, master=master, by=by, now=now)
    refresh_standing(gauge, now)
    return row


@act("recall.part")
def part(*, pairing: Pairing, reason: str, by: Acting, now: datetime) -> Pairing:
    """Part a gauge from its setting master, with the reason; what stops the master no longer stops the gauge.

    Raises what the inventory does: NotPaired, ReasonMissing.
    """
    row: Pairing = inventory.unpair(pairing=pairing, reason=reason, by=by, now=now)
    refresh_standing(pairing.gauge, now)
    return row
