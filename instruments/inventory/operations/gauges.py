"""Acts on gauges: registering one under a tag for life, and changing what is written about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from django.db import IntegrityError

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.models import Gauge, GaugeModel, GaugeState
from instruments.inventory.operations.models import known_functions
from instruments.inventory.operations.reasons import NothingChanged, changes, given
from instruments.inventory.queries.description import describe
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Department, Place, Tag
from labsys.laboratory.operations import TagTaken, issue_tag
from labsys.laboratory.queries import called

_AS_GIVEN = ("model", "department", "place", "custodian", "owner", "calibration_needed", "check_before_use")
_TEXTS = ("serial", "owner_name", "no_calibration_reason", "note")


class TagStays(LabError, ValueError):
    """A tag is the identity of a gauge for its whole life."""

    code: ClassVar[str] = "tag-stays"
    sentence: ClassVar[str] = (
        "The tag {tag} stays with this gauge for life and can't become {wanted}. "
        "If the wrong piece was registered, take it out of service and register the right one."
    )
    field: ClassVar[str | None] = "tag"


class TagsTakenMeanwhile(LabError):
    """Somebody else gave out one of the tags between the look and the act."""

    code: ClassVar[str] = "tags-taken-meanwhile"
    sentence: ClassVar[str] = (
        "One of the tags was taken in this moment, so nothing was stored. Look at the list again and repeat it."
    )


class FunctionNotOfModel(LabError, ValueError):
    """A gauge can't have a function that its model wasn't made with."""

    code: ClassVar[str] = "function-not-of-model"
    sentence: ClassVar[str] = (
        "The model {model} has no function {function}; it has {known}. Take it off, or correct the model."
    )
    field: ClassVar[str | None] = "functions"


class NoSuchStandard(LabError, ValueError):
    """A tag was to be shared with a standard, and no standard carries it."""

    code: ClassVar[str] = "no-such-standard"
    sentence: ClassVar[str] = (
        "No standard carries the tag {tag}, so there is nothing to share it with. "
        "Check the tag, or register the gauge under a tag of its own."
    )
    field: ClassVar[str | None] = "tag"


@dataclass(frozen=True)
class GaugeData:
    """A gauge as registered. Without ``functions`` it has all of its model's.

    ``shares_tag`` says that the piece is a reference standard too and carries that standard's tag.
    """

    tag: str
    model: GaugeModel
    serial: str
    department: Department
    place: Place
    custodian: Person | None = None
    owner: str = "own"
    owner_name: str = ""
    functions: tuple[str, ...] = ()
    calibration_needed: bool = True
    no_calibration_reason: str = ""
    check_before_use: bool = False
    note: str = ""
    shares_tag: bool = False


@act("inventory.register-gauge")
def register_gauge(*, data: GaugeData, by: Acting, now: datetime) -> Gauge:
    """Register a gauge under its tag; it is new and not accepted until its first calibration is.

    Raises TagTaken, NoSuchStandard, UnknownFunction, FunctionNotOfModel, ValidationError.
    """
    require(by, MANAGE_GAUGES)
    row = Gauge(tag=_tag(data, by, now), registered_at=now)
    _fill(row, data)
    GaugeState.objects.create(gauge=row, state=GaugeState.State.NEW, valid_from=now, recorded_at=now)
    note(f"gauge:{row.pk}", after={**describe(row), "state": GaugeState.State.NEW.value})
    return row


@act("inventory.register-gauges")
def register_gauges(*, items: Sequence[GaugeData], by: Acting, now: datetime) -> list[Gauge]:
    """Register many gauges in one act, all or none, in a few statements however many they are.

    The data must have been judged before (sheets.judge); what slipped in since then is refused by the database as
    TagsTakenMeanwhile. Raises what register_gauge raises.
    """
    require(by, MANAGE_GAUGES)
    try:
        tags = Tag.objects.bulk_create([Tag(text=data.tag.strip(), created_at=now) for data in items])
    except IntegrityError as race:
        raise TagsTakenMeanwhile() from race
    rows = [Gauge(tag=tag, registered_at=now) for tag in tags]
    for row, data in zip(rows, items, strict=True):
        fill(row, data)
    Gauge.objects.bulk_create(rows)
    new = GaugeState.State.NEW
    GaugeState.objects.bulk_create(
        GaugeState(gauge=row, state=new, valid_from=now, recorded_at=now) for row in rows
    )
    for row in rows:
        note(f"gauge:{row.pk}", after={**describe(row), "state": new.value})
    return rows


@act("inventory.change-gauge")
def change_gauge(*, gauge: Gauge, data: GaugeData, reason: str, by: Acting, now: datetime) -> Gauge:
    """Change what is written about a gauge, with a reason; its tag stays.

    Raises ReasonMissing, TagStays, NothingChanged, UnknownFunction, FunctionNotOfModel, ValidationError.
    """
    require(by, MANAGE_GAUGES)
    subject = f"gauge:{gauge.pk}"
    why = given(reason, what="a gauge", subject=subject)
    row = Gauge.objects.select_for_update(of=("self",)).select_related("tag").get(pk=gauge.pk)
    if data.tag.strip().casefold() != row.tag.text.casefold():
        raise TagStays(tag=row.tag.text, wanted=data.tag.strip(), subject=subject)
    before = describe(row)
    _fill(row, data)
    old, new = changes(before, describe(row))
    if not new:
        raise NothingChanged(what=row.tag.text, subject=subject)
    note(subject, reason=why, before=old, after=new)
    return row


def _tag(data: GaugeData, by: Acting, now: datetime) -> Tag:
    if not data.shares_tag:
        return issue_tag(text=data.tag, by=by, now=now)
    tag: Tag | None = called(Tag.objects.all(), data.tag, "text").first()
    if tag is None:
        raise NoSuchStandard(tag=data.tag.strip())
    if Gauge.objects.filter(tag=tag).exists():
        raise TagTaken(text=tag.text)
    return tag


def _fill(row: Gauge, data: GaugeData) -> None:
    fill(row, data)
    row.full_clean(exclude=["functions"])
    row.save()


def fill(row: Gauge, data: GaugeData) -> None:
    """Write the data into the row, unsaved; raises UnknownFunction, FunctionNotOfModel."""
    row.functions = functions_present(data)
    for name in _AS_GIVEN:
        setattr(row, name, getattr(data, name))
    for name in _TEXTS:
        setattr(row, name, getattr(data, name).strip())
    if row.owner == Gauge.Owner.OWN:
        row.owner_name = ""
    if row.calibration_needed:
        row.no_calibration_reason = ""


def functions_present(data: GaugeData) -> list[str]:
    """Give the functions this gauge has: those named, otherwise its model's; raises FunctionNotOfModel."""
    if not data.functions:
        return list(data.model.functions)
    named = known_functions(data.functions, what=data.tag)
    for function in named:
        if function not in data.model.functions:
            raise FunctionNotOfModel(
                model=str(data.model), function=function, known=", ".join(data.model.functions)
            )
    return named
