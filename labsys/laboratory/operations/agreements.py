"""Acts on agreements: what a department settled for a family of its gauges, from when on."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.reasons import given
from labsys.journal.roles import require
from labsys.laboratory.access import MANAGE_LABORATORY
from labsys.laboratory.limit_rows import read_lines
from labsys.laboratory.models import Agreement, Department, Family
from labsys.laboratory.queries import agreements_to_withdraw
from labsys.metrology.decision import Rule


class NothingAgreed(LabError):
    """There is no agreement to withdraw."""

    code: ClassVar[str] = "nothing-agreed"
    sentence: ClassVar[str] = (
        "{department} has no agreement for {family} in force, so there is nothing to withdraw."
    )


class LimitsWithoutSource(LabError, ValueError):
    """Limits were agreed, but nobody can check them."""

    code: ClassVar[str] = "limits-without-source"
    sentence: ClassVar[str] = (
        "The agreement states limits. Say where they come from: the specification with its edition and clause."
    )
    field: ClassVar[str | None] = "limits_source"


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
    """Record what a department settled for a family of its gauges, from an instant on.

    The rule is read as verdicts will read it, so that nothing is agreed that can't be applied. Raises BadRule,
    LimitRowFault, LimitsWithoutSource, ValidationError.
    """
    require(by, MANAGE_LABORATORY)
    read = _readable(terms, family, subject=f"department:{department.pk}")
    row = Agreement(
        department=department,
        family=family,
        agreed_by=agreed_by.strip(),
        valid_from=valid_from,
        recorded_at=now,
        **vars(read),
    )
    row.full_clean(exclude=["limit_rows", "recipients"])
    row.save()
    said = {**asdict(read), "department": department.name, "family": family.name}
    note(f"agreement:{row.pk}", after={**said, "agreed_by": row.agreed_by, "valid_from": valid_from})
    return row


def _readable(terms: AgreementTerms, family: Family, *, subject: str) -> AgreementTerms:
    lines = read_lines(terms.limit_rows or (), subject=subject, quantity=family.quantity)
    if lines and not terms.limits_source.strip():
        raise LimitsWithoutSource(subject=subject)
    return replace(
        terms,
        rule=Rule.from_json(terms.rule).to_json(),
        limits_source=terms.limits_source.strip(),
        limit_rows=[line.travelling() for line in lines] or None,
        recipients=_addresses(terms.recipients),
    )


def _addresses(found: list[str]) -> list[str]:
    cleaned = list(dict.fromkeys(address.strip() for address in found if address.strip()))
    for address in cleaned:
        try:
            validate_email(address)
        except ValidationError as fault:
            sentence = f"“{address}” is no mail address. Give one on each line."
            raise ValidationError({"recipients": sentence}) from fault
    return cleaned


@act("laboratory.withdraw-agreement")
def withdraw_agreement(
    *, department: Department, family: Family, reason: str, by: Acting, now: datetime
) -> Agreement:
    """End an agreement by a row that withdraws it; one that was to begin later never does.

    Raises ReasonMissing, NothingAgreed.
    """
    require(by, MANAGE_LABORATORY)
    subject = f"department:{department.pk}"
    why = given(reason, what="Withdrawing an agreement", subject=subject)
    ends = agreements_to_withdraw(department, family, now)
    if not ends:
        raise NothingAgreed(department=department.name, family=family.name.lower(), subject=subject)
    rows = [_withdrawal(ended, at, why, now) for at, ended in ends]
    note(f"agreement:{rows[0].pk}", reason=why, before={"agreement": ends[0][1].pk})
    return rows[0]


def _withdrawal(ended: Agreement, at: datetime, reason: str, now: datetime) -> Agreement:
    return Agreement.objects.create(
        department=ended.department,
        family=ended.family,
        rule=ended.rule,
        agreed_by=ended.agreed_by,
        valid_from=at,
        recorded_at=now,
        reason=reason,
        withdrawn=True,
    )
