"""Acts on what belongs together: the members of a set, a gauge and its setting master."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import ClassVar

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.models import Gauge, Member, Pairing
from instruments.inventory.operations.reasons import given
from instruments.inventory.queries.pairs import masters_of
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.queries import local_date


class AlreadyWithdrawn(LabError, ValueError):
    """The member was withdrawn before."""

    code: ClassVar[str] = "already-withdrawn"
    sentence: ClassVar[str] = "{label} of {tag} was withdrawn on {day} already: {reason}"


class PairedWithItself(LabError, ValueError):
    """A gauge can't be its own setting master."""

    code: ClassVar[str] = "paired-with-itself"
    sentence: ClassVar[str] = "{tag} can't be its own setting master. Name the master's own tag."
    field: ClassVar[str | None] = "master"


class AlreadyPaired(LabError, ValueError):
    """The two belong together already."""

    code: ClassVar[str] = "already-paired"
    sentence: ClassVar[str] = "{tag} and {master} are paired already, since {day}."
    field: ClassVar[str | None] = "master"


class PairedInACircle(LabError, ValueError):
    """The master is itself set with the gauge, straight or over others."""

    code: ClassVar[str] = "paired-in-a-circle"
    sentence: ClassVar[str] = (
        "{master} is itself set with {tag}, so it can't be the setting master of {tag}. Part those first, or name "
        "another master."
    )
    field: ClassVar[str | None] = "master"


class NotPaired(LabError, ValueError):
    """The pairing has ended before."""

    code: ClassVar[str] = "not-paired"
    sentence: ClassVar[str] = "{tag} and {master} parted on {day} already."


@act("inventory.add-member")
def add_member(*, gauge: Gauge, label: str, nominal_mm: Decimal | None, by: Acting, now: datetime) -> Member:
    """Add a piece to a set, with its nominal in mm where it has one; raises ValidationError for a label in use."""
    require(by, MANAGE_GAUGES)
    row = Member(gauge=gauge, label=label.strip(), nominal_mm=nominal_mm, added_at=now)
    row.full_clean()
    row.save()
    note(f"gauge:{gauge.pk}", after={"member": row.label, "nominal_mm": nominal_mm})
    return row


@act("inventory.withdraw-member")
def withdraw_member(*, member: Member, reason: str, by: Acting, now: datetime) -> Member:
    """Take a piece of a set out of use, with the reason; it stays on record. Raises AlreadyWithdrawn, ReasonMissing."""
    require(by, MANAGE_GAUGES)
    subject = f"gauge:{member.gauge_id}"
    why = given(reason, what="a set", subject=subject)
    row = Member.objects.select_for_update().get(pk=member.pk)
    if row.withdrawn_on is not None:
        raise AlreadyWithdrawn(
            label=row.label,
            tag=member.gauge.tag.text,
            day=f"{row.withdrawn_on:%Y-%m-%d}",
            reason=row.withdrawn_reason,
            subject=subject,
        )
    row.withdrawn_on, row.withdrawn_reason = local_date(now), why
    row.save(update_fields=["withdrawn_on", "withdrawn_reason"])
    note(subject, reason=why, before={"member": row.label}, after={"withdrawn": row.label})
    return row


@act("inventory.pair")
def pair(*, gauge: Gauge, master: Gauge, by: Acting, now: datetime) -> Pairing:
    """Say which setting master belongs to a gauge; raises PairedWithItself, AlreadyPaired, PairedInACircle."""
    require(by, MANAGE_GAUGES)
    subject, tag = f"gauge:{gauge.pk}", gauge.tag.text
    if gauge.pk == master.pk:
        raise PairedWithItself(tag=tag, subject=subject)
    standing = Pairing.objects.filter(gauge=gauge, master=master, ended_at=None).first()
    if standing is not None:
        day = f"{local_date(standing.paired_at):%Y-%m-%d}"
        raise AlreadyPaired(tag=tag, master=master.tag.text, day=day, subject=subject)
    if gauge.pk in {step.gauge_id for step in masters_of([master.pk], now).get(master.pk, ())}:
        raise PairedInACircle(tag=tag, master=master.tag.text, subject=subject)
    row = Pairing.objects.create(gauge=gauge, master=master, paired_at=now)
    note(subject, after={"paired_with": master.tag.text})
    return row


@act("inventory.unpair")
def unpair(*, pairing: Pairing, reason: str, by: Acting, now: datetime) -> Pairing:
    """Part a gauge from its setting master, with the reason; raises NotPaired, ReasonMissing."""
    require(by, MANAGE_GAUGES)
    subject = f"gauge:{pairing.gauge_id}"
    why = given(reason, what="a pair", subject=subject)
    row = Pairing.objects.select_for_update().get(pk=pairing.pk)
    tag, master = pairing.gauge.tag.text, pairing.master.tag.text
    if row.ended_at is not None:
        day = f"{local_date(row.ended_at):%Y-%m-%d}"
        raise NotPaired(tag=tag, master=master, day=day, subject=subject)
    row.ended_at = now
    row.save(update_fields=["ended_at"])
    note(subject, reason=why, before={"paired_with": master}, after={"parted_from": master})
    return row
