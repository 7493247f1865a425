"""What stands on the labels of gauges; the due date only where the agreement with the owner says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.conf import settings
from django.urls import reverse

from instruments.inventory.models import Gauge
from instruments.recall.queries.due import due_of
from instruments.recall.queries.facts import Facts, gather
from instruments.recall.queries.standing import INDICATION_ONLY, RECALL_RESTS, passes, restricted_since
from labsys.laboratory.queries import agreement_in_force


@dataclass(frozen=True)
class Label:
    """One label: tag, what it is, the code's address, and the lines that may be printed."""

    tag: str
    what: str
    url: str
    lines: tuple[str, ...]


def labels(gauges: Sequence[Gauge], now: datetime) -> list[Label]:
    """Make the labels of gauges, in their order. Dates stand only on those of gauges fit for use."""
    facts = gather(gauges, now)
    agreed: dict[tuple[int, int], bool] = {}
    made = []
    for gauge in gauges:
        pair = (gauge.department_id, gauge.model.family_id)
        if pair not in agreed:
            found = agreement_in_force(gauge.department, gauge.model.family, now)
            agreed[pair] = found is not None and found.due_date_printed
        lines = _lines(facts[gauge.pk], due_on=due_of(facts[gauge.pk]) if agreed[pair] else None)
        made.append(Label(gauge.tag.text, gauge.model.family.name, code_url(gauge), lines))
    return made


def code_url(gauge: Gauge) -> str:
    """Give the address that a label's code carries: an opaque number, nothing about the gauge."""
    return f"{settings.SITE_URL}{reverse('floor', args=[gauge.tag.code])}"


def _lines(facts: Facts, *, due_on: date | None) -> tuple[str, ...]:
    if not facts.gauge.calibration_needed:
        return (INDICATION_ONLY,)
    if not _is_fit(facts) or facts.event is None:
        return ("Scan before use.",)
    lines = [f"Calibrated {facts.event.calibrated_on:%Y-%m-%d}"]
    lines.append(f"Due {due_on:%Y-%m-%d}" if due_on else "Scan for validity")
    if facts.restriction is not None or facts.withdrawn_members:
        lines.append("Restricted: scan")
    elif facts.gauge.check_before_use:
        lines.append("Check before use")
    return tuple(lines)


def _is_fit(facts: Facts) -> bool:
    """Say whether the gauge may carry dates: calibrated well, nothing against it; being in the laboratory is nothing
    against it, as labels are stuck on there.
    """
    good = facts.event is not None and (passes(facts.event) or restricted_since(facts))
    return good and _nothing_against(facts) and all(_master_is_fit(master.facts) for master in facts.masters)


def _nothing_against(facts: Facts) -> bool:
    return not facts.holds and facts.state not in RECALL_RESTS


def _master_is_fit(facts: Facts) -> bool:
    if not facts.gauge.calibration_needed:
        return _nothing_against(facts)
    due = due_of(facts)
    good = facts.event is not None and (passes(facts.event) or restricted_since(facts))
    return good and due is not None and due >= facts.on and _nothing_against(facts)
