"""What a gauge may still be used for, decided by a competent person with the owner's consent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from instruments.inventory.models import Gauge
from instruments.recall.access import RELEASE_GAUGES
from instruments.recall.models import Restriction
from instruments.recall.operations.standing import refresh_standing
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require


class UnknownFunctions(LabError, ValueError):
    """A restriction to functions that the gauge hasn't."""

    code: ClassVar[str] = "unknown-functions"
    sentence: ClassVar[str] = "{gauge} measures {has}, not {found}. Choose among its own functions."
    field: ClassVar[str | None] = "functions"


class NotRestricted(LabError):
    """There is no restriction to lift."""

    code: ClassVar[str] = "not-restricted"
    sentence: ClassVar[str] = "{gauge} has no restriction in force, so there is nothing to lift."


@dataclass(frozen=True)
class RestrictionData:
    """What stays allowed: the functions (empty: all it has), the sentence the floor reads, who consented."""

    text: str
    functions: tuple[str, ...] = ()
    owner_consent: str = ""


@act("recall.restrict")
def restrict(*, gauge: Gauge, data: RestrictionData, reason: str, by: Acting, now: datetime) -> Restriction:
    """Restrict the use of a gauge from now on; replaces a restriction in force. Raises UnknownFunctions."""
    require(by, RELEASE_GAUGES)
    strange = [name for name in data.functions if name not in gauge.functions]
    if strange:
        raise UnknownFunctions(
            gauge=str(gauge),
            has=", ".join(gauge.functions) or "nothing",
            found=", ".join(strange),
            subject=f"gauge:{gauge.pk}",
        )
    row = Restriction(
        gauge=gauge,
        functions=list(data.functions),
        text=data.text,
        owner_consent=data.owner_consent,
        approved_by=by.as_actor().name,
        valid_from=now,
        recorded_at=now,
        reason=reason,
    )
    row.full_clean(exclude=["functions"])
    row.save()
    note(f"gauge:{gauge.pk}", reason=reason, after={"restriction": row.pk, **vars(data)})
    refresh_standing(gauge, now)
    return row


@act("recall.lift-restriction")
def lift_restriction(*, gauge: Gauge, reason: str, by: Acting, now: datetime) -> Restriction:
    """Lift the restriction in force by a row that says so; raises NotRestricted."""
    require(by, RELEASE_GAUGES)
    current: Restriction | None = Restriction.objects.filter(gauge=gauge).in_force(now)
    if current is None or current.lifted:
        raise NotRestricted(gauge=str(gauge), subject=f"gauge:{gauge.pk}")
    row = Restriction.objects.create(
        gauge=gauge,
        approved_by=by.as_actor().name,
        valid_from=now,
        recorded_at=now,
        reason=reason,
        lifted=True,
    )
    note(f"gauge:{gauge.pk}", reason=reason, before={"restriction": current.pk, "text": current.text})
    refresh_standing(gauge, now)
    return row
