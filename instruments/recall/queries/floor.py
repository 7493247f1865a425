"""What the floor page says of a scanned code: one read, the same whether the code is right or wrong."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from instruments.inventory.models import Gauge
from instruments.recall.models import GaugeStanding
from instruments.recall.queries.standing import Standing, read
from labsys.accounts.models import Person
from labsys.laboratory.models import Tag
from labsys.metrology.units import Quantity
from labsys.pages.figures import size

Word = GaugeStanding.Word
_CODE = re.compile(r"[0-9a-f]{32}")
_NOBODYS = "no code"
"""Asked for instead of what can't be a code, so that such a scan costs the same read and can't upset the database."""


@dataclass(frozen=True)
class FloorAnswer:
    """The answer to a scan: what may be done, and of what is on record only what the floor needs."""

    tag: str
    what: str
    standing: Standing
    belongs_at: str
    ask: str
    gauge: Gauge | None = None


_STANDARD = Standing(
    Word.STOP, Word.STOP.label, "a laboratory standard, not for use on the floor", None, "", False
)


def answer(code: str, today: date) -> FloorAnswer | None:
    """Find what a label's code stands for and what may be done with it today; None for a code that nobody gave out.

    One query, whatever the code is, and nothing is written. A piece that is both gauge and standard answers as gauge.
    """
    tag = (
        Tag.objects.filter(code=code if _CODE.fullmatch(code) else _NOBODYS)
        .select_related(
            "gauge__standing",
            "gauge__model__family",
            "gauge__department",
            "gauge__place",
            "gauge__custodian",
            "standard",
        )
        .first()
    )
    gauge: Gauge | None = getattr(tag, "gauge", None)
    if tag is not None and gauge is not None:
        standing = read(getattr(gauge, "standing", None), today)
        ask = gauge.department.contact or gauge.department.name
        return FloorAnswer(tag.text, what(gauge), standing, gauge.place.name, ask, gauge)
    if tag is not None and getattr(tag, "standard", None) is not None:
        return FloorAnswer(tag.text, "Reference standard", _STANDARD, "the laboratory", "the laboratory")
    return None


def what(gauge: Gauge) -> str:
    """Say what a gauge is, as the floor calls it: its family and range."""
    model, low, high = gauge.model, gauge.model.range_low_mm, gauge.model.range_high_mm
    if model.quantity is Quantity.ANGLE:
        return f"{model.family.name}, {size(low, model.unit)} to {size(high, model.unit)}"
    return f"{model.family.name}, {low.normalize():f} to {high.normalize():f} mm"


def in_care_of(gauge: Gauge, person: Person) -> bool:
    """Say whether a person keeps the gauge or belongs to its department."""
    same = person.department_id is not None and gauge.department_id == person.department_id
    return gauge.custodian_id == person.pk or same
