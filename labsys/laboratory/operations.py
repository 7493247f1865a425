"""Acts on the laboratory's own facts: departments, places, families, tags, agreements, capacity, details."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.models import (
    Agreement,
    Capacity,
    Department,
    Family,
    LaboratoryDetail,
    Place,
    Tag,
)


class TagTaken(LabError, ValueError):
    """A tag stays with one item for life."""

    code: ClassVar[str] = "tag-taken"
    sentence: ClassVar[str] = "The tag {text} is taken. A tag stays with one item for life; choose another."
    field: ClassVar[str | None] = "tag"


class NothingAgreed(LabError):
    """There is no agreement to withdraw."""

    code: ClassVar[str] = "nothing-agreed"
    sentence: ClassVar[str] = (
        "{department} has no agreement for {family} in force, so there is nothing to withdraw."
    )


@dataclass(frozen=True)
class AgreementTerms:
    """What a department settles for a family: limits and source, rule, adjustment, due dates, recipients.

    ``limit_rows`` holds ``{"function", "up_to_mm", "lower_mm", "upper_mm"}`` with decimals as strings, or None when
    the limits of the gauge's model hold.
    """

    rule: dict[str, Any]
    limits_source: str = ""
    limit_rows: list[dict[str, Any]] | None = None
    limits_confirmed: bool = False
    adjustment_allowed: bool = False
    due_date_printed: bool = False
    recipients: list[str] = field(default_factory=list)


@act("laboratory.add-department")
def add_department(*, code: str, name: str, contact: str, by: Acting, now: datetime) -> Department:
    """Record a department; raises ValidationError when its code or name is taken."""
    require(by, MANAGE_LABORATORY)
    row = Department(code=code, name=name, contact=contact)
    row.full_clean()
    row.save()
    note(f"department:{row.pk}", after={"code": code, "name": name, "contact": contact})
    return row


@act("laboratory.add-place")
def add_place(
    *, name: str, department: Department | None, is_laboratory: bool = False, by: Acting, now: datetime
) -> Place:
    """Record a place."""
    require(by, MANAGE_LABORATORY)
    row = Place(name=name, department=department, is_laboratory=is_laboratory)
    row.full_clean()
    row.save()
    note(f"place:{row.pk}", after={"name": name, "department": str(department or "")})
    return row


@act("laboratory.add-family")
def add_family(
    *, code: str, name: str, bench_hours: Decimal, interval_months: int, by: Acting, now: datetime
) -> Family:
    """Record a family of gauges with its planned bench hours and the interval its gauges start with."""
    require(by, MANAGE_LABORATORY)
    row = Family(code=code, name=name, bench_hours=bench_hours, default_interval_months=interval_months)
    row.full_clean()
    row.save()
    note(f"family:{row.pk}", after={"code": code, "name": name, "interval_months": interval_months})
    return row


@act("laboratory.issue-tag")
def issue_tag(*, text: str, by: Acting, now: datetime) -> Tag:
    """Give out a tag with its opaque code; gauges and standards share one namespace."""
    cleaned = text.strip()
    if Tag.objects.filter(text__iexact=cleaned).exists():
        raise TagTaken(text=cleaned)
    row = Tag(text=cleaned, created_at=now)
    row.full_clean()
    row.save()
    note(f"tag:{row.pk}", after={"text": cleaned})
    return row


@act("laboratory.agree")
def agree(
    *,
    department: Department,
    family: Family,
    terms: AgreementTerms,
    agreed_by: str,
    valid_from: datetime,
    by: Acting,
    now: datetime,
) -> Agreement:
    """Record what a department settled for a family of its gauges, from an instant on."""
    require(by, MANAGE_LABORATORY)
    row = Agreement(
        department=department,
        family=family,
        agreed_by=agreed_by,
        valid_from=valid_from,
        recorded_at=now,
        **vars(terms),
    )
    row.full_clean(exclude=["limit_rows", "recipients"])
    row.save()
    note(f"agreement:{row.pk}", after={**vars(terms), "department": department.name, "family": family.name})
    return row


@act("laboratory.withdraw-agreement")
def withdraw_agreement(
    *, department: Department, family: Family, reason: str, by: Acting, now: datetime
) -> Agreement:
    """End an agreement by a row that withdraws it; raises NothingAgreed when there is none."""
    require(by, MANAGE_LABORATORY)
    current: Agreement | None = Agreement.objects.filter(department=department, family=family).in_force(now)
    if current is None or current.withdrawn:
        raise NothingAgreed(department=department.name, family=family.name)
    row = Agreement.objects.create(
        department=department,
        family=family,
        rule=current.rule,
        agreed_by=current.agreed_by,
        valid_from=now,
        recorded_at=now,
        reason=reason,
        withdrawn=True,
    )
    note(f"agreement:{row.pk}", reason=reason, before={"agreement": current.pk})
    return row


@act("laboratory.set-capacity")
def set_capacity(
    *, hours_per_week: Decimal, valid_from: datetime, reason: str, by: Acting, now: datetime
) -> Capacity:
    """Record how many bench hours a week has, from an instant on."""
    require(by, MANAGE_LABORATORY)
    row = Capacity(hours_per_week=hours_per_week, valid_from=valid_from, recorded_at=now, reason=reason)
    row.full_clean()
    row.save()
    note("laboratory", reason=reason, after={"hours_per_week": hours_per_week, "valid_from": valid_from})
    return row


@act("laboratory.set-details")
def set_details(
    *,
    name: str,
    address: str,
    contact: str,
    second_signature: bool,
    reason: str,
    by: Acting,
    now: datetime,
) -> LaboratoryDetail:
    """Record what the laboratory calls itself on documents, and whether a second person must sign."""
    require(by, MANAGE_LABORATORY)
    row = LaboratoryDetail(
        name=name,
        address=address,
        contact=contact,
        second_signature=second_signature,
        decided_by=by.as_actor().name,
        reason=reason,
        valid_from=now,
        recorded_at=now,
    )
    row.full_clean()
    row.save()
    note("laboratory", reason=reason, after={"name": name, "second_signature": second_signature})
    return row
