"""The act of registering a standard with its elements."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from decimal import Decimal

from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.models import Place, Tag
from labsys.laboratory.operations import issue_tag
from standards.register.access import MANAGE_STANDARDS
from standards.register.models import Standard, StandardState
from standards.register.operations.elements import ElementData, add_element


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


@act("register.register-standard")
def register_standard(*, data: StandardData, by: Acting, now: datetime) -> Standard:
    """Put a standard on the register as “new and not accepted”, with its tag and elements.

    Raises TagTaken, UnknownFunction, and ValidationError for what the tables refuse.
    """
    require(by, MANAGE_STANDARDS)
    tag = data.tag if isinstance(data.tag, Tag) else issue_tag(text=data.tag, by=by, now=now)
    columns = {field.name: getattr(data, field.name) for field in fields(data)}
    del columns["tag"], columns["elements"]
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
