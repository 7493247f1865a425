"""Acts on issuers: who they are, what they are recognised for from when on, and the end of that."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date
from standards.traceability.access import MANAGE_ISSUERS
from standards.traceability.models import Accreditation, Issuer
from standards.traceability.queries import accreditations_at


class RangeUpsideDown(LabError, ValueError):
    """A scope whose range ends before it begins, or whose term does."""

    code: ClassVar[str] = "range-upside-down"
    sentence: ClassVar[str] = (
        "Expected {what} to end after it begins, found {low} to {high}. Correct one of them."
    )
    field: ClassVar[str | None] = "range_high_mm"


class NothingToWithdraw(LabError):
    """The scope line isn't in force on that day."""

    code: ClassVar[str] = "nothing-to-withdraw"
    sentence: ClassVar[str] = (
        "{issuer} has no such accreditation in force on {day}, so there is nothing to withdraw."
    )
    field: ClassVar[str | None] = "valid_from"


@dataclass(frozen=True)
class AccreditationData:
    """A line of a scope, or a published capability: lengths in mm, CMC at k = 2 as constant + share of length."""

    body: str
    number: str
    quantity: str
    range_low_mm: Decimal
    range_high_mm: Decimal
    cmc_constant_mm: Decimal
    cmc_per_length: Decimal
    valid_from: datetime
    lapses_on: date | None = None
    reason: str = ""


@act("traceability.register-issuer")
def register_issuer(*, name: str, kind: str, country: str = "", by: Acting, now: datetime) -> Issuer:
    """Record who issues certificates; raises ValidationError when the name is taken."""
    require(by, MANAGE_ISSUERS)
    row = Issuer(name=name.strip(), kind=kind, country=country.strip())
    row.full_clean()
    row.save()
    note(f"issuer:{row.pk}", after={"name": row.name, "kind": str(kind), "country": row.country})
    return row


@act("traceability.record-accreditation")
def record_accreditation(
    *, issuer: Issuer, data: AccreditationData, by: Acting, now: datetime
) -> Accreditation:
    """Record what an issuer is recognised for, from an instant on; raises RangeUpsideDown.

    A new CMC or term for the same body, number, quantity and range supersedes the line from then on.
    """
    require(by, MANAGE_ISSUERS)
    if data.range_low_mm > data.range_high_mm:
        raise RangeUpsideDown(what="the range", low=f"{data.range_low_mm}", high=f"{data.range_high_mm}")
    row = Accreditation(issuer=issuer, recorded_at=now, **vars(data))
    row.full_clean()
    row.save()
    note(f"issuer:{issuer.pk}", reason=data.reason, after={"accreditation": row.pk, **vars(data)})
    return row


@act("traceability.withdraw-accreditation")
def withdraw_accreditation(
    *, accreditation: Accreditation, valid_from: datetime, reason: str, by: Acting, now: datetime
) -> Accreditation:
    """End a line of a scope from an instant on, by a row that withdraws it; raises NothingToWithdraw."""
    require(by, MANAGE_ISSUERS)
    issuer = accreditation.issuer
    if accreditation not in accreditations_at(issuer, local_date(valid_from)):
        raise NothingToWithdraw(
            issuer=issuer.name, day=f"{local_date(valid_from)}", subject=f"issuer:{issuer.pk}"
        )
    row = Accreditation.objects.get(pk=accreditation.pk)
    row.pk, row.withdrawn, row.reason = None, True, reason
    row.valid_from, row.recorded_at = valid_from, now
    row.save(force_insert=True)
    note(
        f"issuer:{issuer.pk}",
        reason=reason,
        before={"accreditation": accreditation.pk},
        after={"withdrawn": row.pk},
    )
    return row
