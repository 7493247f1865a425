"""The acts of registering a standard with its elements, and of changing what is written about it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from decimal import Decimal
from typing import Any, ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Place, Tag
from labsys.laboratory.operations import issue_tag
from standards.register.access import MANAGE_STANDARDS
from standards.register.models import Standard, StandardState, quantity_of
from standards.register.operations.elements import ElementData, NothingChanged, add_element
from standards.register.operations.states import ReasonMissing


@dataclass(frozen=True)
class StandardData:
    """A standard as it is entered.

    ``tag`` is a new tag's text, or the Tag of a gauge that serves as a standard too. Expansion in 1/K;
    ``wanted_u_*`` is the largest U (k = 2) its use allows: constant in mm and share of length.
    """

    tag: str | Tag
    kind: str
    name: str
    serial: str
    place: Place
    interval_months: int
    maker: str = ""
    model: str = ""
    grade: str = ""
    owner: str = ""
    expansion_per_k: Decimal | None = None
    expansion_half_width_per_k: Decimal | None = None
    wanted_u_constant_mm: Decimal | None = None
    wanted_u_per_length: Decimal | None = None
    elements: tuple[ElementData, ...] = ()


class KindOfAnotherQuantity(LabError, ValueError):
    """A standard of lengths can't become one of angles once it has elements, nor the other way round."""

    code: ClassVar[str] = "kind-of-another-quantity"
    sentence: ClassVar[str] = (
        "The elements of {tag} are {quantity}s, so its kind can't become one that isn't. Register another standard."
    )
    field: ClassVar[str | None] = "kind"


@act("register.register-standard")
def register_standard(*, data: StandardData, by: Acting, now: datetime) -> Standard:
    """Put a standard on the register as “new and not accepted”, with its tag and elements.

    Raises TagTaken, UnknownFunction, and ValidationError for what the tables refuse.
    """
    require(by, MANAGE_STANDARDS)
    tag = data.tag if isinstance(data.tag, Tag) else issue_tag(text=data.tag, by=by, now=now)
    columns = _columns(data)
    standard = Standard(tag=tag, registered_at=now, **columns)
    standard.full_clean()
    standard.save()
    StandardState.objects.create(
        standard=standard, state=StandardState.State.NEW, valid_from=now, recorded_at=now
    )
    note(f"standard:{standard.pk}", after={**columns, "tag": tag.text, "place": data.place.name})
    for element in data.elements:
        add_element(standard=standard, data=element, by=by, now=now)
    return standard


@act("register.change-standard")
def change_standard(
    *, standard: Standard, data: StandardData, reason: str, by: Acting, now: datetime
) -> Standard:
    """Change what is written about a standard, with the reason; its tag and elements stay what they are.

    A new interval counts for the calibrations recorded from now on: due dates that were given stand. Raises
    ReasonMissing, NothingChanged, KindOfAnotherQuantity, and ValidationError for what the tables refuse.
    """
    require(by, MANAGE_STANDARDS)
    if not reason.strip():
        raise ReasonMissing(what="A change of what is written about a standard")
    row = Standard.objects.select_for_update(of=("self",)).select_related("place", "tag").get(pk=standard.pk)
    changed = {name: value for name, value in _columns(data).items() if getattr(row, name) != value}
    if not changed:
        raise NothingChanged(what=str(row.tag))
    if "kind" in changed and quantity_of(data.kind) is not row.quantity and row.elements.exists():
        raise KindOfAnotherQuantity(tag=str(row.tag), quantity=row.quantity)
    before = {name: _shown(getattr(row, name)) for name in changed}
    for name, value in changed.items():
        setattr(row, name, value)
    row.full_clean()
    row.save(update_fields=list(changed))
    after = {name: _shown(value) for name, value in changed.items()}
    note(f"standard:{row.pk}", reason=reason.strip(), before=before, after=after)
    return row


def _columns(data: StandardData) -> dict[str, Any]:
    return {
        field.name: getattr(data, field.name)
        for field in fields(data)
        if field.name not in ("tag", "elements")
    }


def _shown(value: Any) -> Any:
    """Give a place by its name; everything else as it is."""
    return value.name if isinstance(value, Place) else value
