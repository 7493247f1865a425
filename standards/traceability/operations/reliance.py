"""The act that ties a calibration to those it relies on: a link of the chain, written once."""

from __future__ import annotations

from datetime import date, datetime
from typing import ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from standards.register.access import KEEP_STANDARDS
from standards.register.models import Calibration
from standards.register.queries import end_of_day, require_usable
from standards.traceability.models import Reliance


class CircularChain(LabError, ValueError):
    """A calibration would rely on what relies on it."""

    code: ClassVar[str] = "circular-chain"
    sentence: ClassVar[str] = (
        "{tag} can't rely on {upstream}, which relies on {tag} itself. Name the standard it was really compared with."
    )
    field: ClassVar[str | None] = "relies_on"


class UpstreamMissing(LabError, ValueError):
    """A calibration made in the house that names no standard it relies on."""

    code: ClassVar[str] = "upstream-missing"
    sentence: ClassVar[str] = (
        "A calibration made in the house relies on a standard. Name the tag of the one that {tag} was compared with."
    )
    field: ClassVar[str | None] = "relies_on"


class UpstreamNotAccepted(LabError, ValueError):
    """The calibration relied on wasn't the accepted one of its day, or had lapsed."""

    code: ClassVar[str] = "upstream-not-accepted"
    sentence: ClassVar[str] = (
        "The calibration of {upstream} on {calibrated_on} could not be relied on on {day}: {why}. "
        "Name the calibration that held then."
    )
    field: ClassVar[str | None] = "relies_on"


@act("traceability.rely-on")
def rely_on(
    *, calibration: Calibration, upstream: tuple[Calibration, ...], by: Acting, now: datetime
) -> None:
    """Record that a calibration relies on others; raises CircularChain.

    Called by the act that recorded the calibration. Naming the same one twice is one link.
    """
    require(by, KEEP_STANDARDS)
    for above in dict.fromkeys(upstream):
        if above == calibration or calibration.pk in _everything_above(above):
            raise CircularChain(tag=str(calibration.standard.tag), upstream=str(above.standard.tag))
        Reliance.objects.get_or_create(calibration=calibration, upstream=above, defaults={"recorded_at": now})
    note(
        f"calibration:{calibration.pk}",
        after={"relies_on": [f"calibration:{above.pk}" for above in dict.fromkeys(upstream)]},
    )


def require_upstream(*, upstream: Calibration, day: date) -> None:
    """Refuse to rely on a calibration that didn't hold on ``day``.

    Raises StandardOverdue, StandardNotReviewed, StandardOutOfService or UpstreamNotAccepted.
    """
    end = end_of_day(day)
    require_usable(upstream.standard, end)
    accepted = upstream.accepted_at is not None and upstream.accepted_at <= end
    if accepted and upstream.calibrated_on <= day <= upstream.due_on:
        return
    why = f"it held through {upstream.due_on}" if accepted else "it was not accepted by then"
    raise UpstreamNotAccepted(
        upstream=str(upstream.standard.tag),
        calibrated_on=f"{upstream.calibrated_on}",
        day=f"{day}",
        why=why,
    )


def _everything_above(calibration: Calibration) -> set[int]:
    found: set[int] = set()
    level = {calibration.pk}
    while level:
        found |= level
        links = Reliance.objects.filter(calibration__in=level)
        level = set(links.values_list("upstream_id", flat=True)) - found
    return found
