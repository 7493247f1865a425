"""Rows of a sheet of gauges: what each would register, or in sentences why it can't be. Reads only."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Value
from django.db.models.functions import Lower

from instruments.inventory.models import Gauge, GaugeModel
from instruments.inventory.operations.cells import READERS, Known, Unfit
from instruments.inventory.operations.gauges import GaugeData, fill
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.laboratory.models import Department, Place, Tag

HEADINGS = {
    "tag": "Tag",
    "model": "Model",
    "serial": "Serial",
    "department": "Department",
    "place": "Place",
    "custodian": "Custodian",
    "owner": "Owner",
    "owner_name": "Owner's name",
    "functions": "Functions",
    "calibration_needed": "Calibration needed",
    "no_calibration_reason": "Reason without calibration",
    "check_before_use": "Check before use",
    "note": "Note",
}
REQUIRED = ("tag", "model", "serial", "department", "place")
_RELATIONS = ("tag", "model", "department", "place", "custodian", "functions")
CHUNK = 500


@dataclass(frozen=True)
class SheetRow:
    """A judged row: its number in the sheet (the headings are row 1), its cells, and what comes of it."""

    number: int
    cells: Mapping[str, str]
    data: GaugeData | None
    faults: tuple[str, ...] = ()


def judge_rows(rows: Sequence[Mapping[str, str]]) -> list[SheetRow]:
    """Judge rows given by field name; the same few queries however many there are."""
    tags = [row.get("tag", "").casefold() for row in rows]
    known = Known(
        models=_by_text(GaugeModel.objects.select_related("family"), lambda one: (str(one),)),
        departments=_by_text(Department.objects.all(), lambda one: (one.code, one.name)),
        places=_by_text(Place.objects.all(), lambda one: (one.name,)),
        people=_by_text(Person.objects.filter(is_active=True), lambda one: (one.username, one.name)),
        taken=_taken([row.get("tag", "") for row in rows]),
        times=Counter(tags),
    )
    return [_judge(number, row, known) for number, row in enumerate(rows, start=2)]


def _by_text(rows: Iterable[Any], texts: Callable[[Any], Iterable[str]]) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for row in rows:
        for text in dict.fromkeys(text.casefold() for text in texts(row)):
            found.setdefault(text, []).append(row)
    return found


def _taken(tags: Sequence[str]) -> set[str]:
    wanted = sorted({tag for tag in tags if tag})
    found: set[str] = set()
    for start in range(0, len(wanted), CHUNK):
        asked = [Lower(Value(tag)) for tag in wanted[start : start + CHUNK]]
        part = Tag.objects.annotate(low=Lower("text")).filter(low__in=asked)
        found.update(text.casefold() for text in part.values_list("text", flat=True))
    return found


def _judge(number: int, row: Mapping[str, str], known: Known) -> SheetRow:
    faults: list[str] = []
    values: dict[str, Any] = {}
    for name, read in READERS.items():
        try:
            values[name] = read(row.get(name, ""), known)
        except Unfit as fault:
            faults.append(f"{HEADINGS[name]}: {fault}")
    if faults:
        return SheetRow(number, row, None, tuple(faults))
    data = GaugeData(**values)
    faults = _faults(data)
    return SheetRow(number, row, None if faults else data, tuple(faults))


def _faults(data: GaugeData) -> list[str]:
    """Ask the acts and the table what they would refuse, without asking the database once for each row."""
    gauge = Gauge()
    try:
        fill(gauge, data)
        gauge.clean_fields(exclude=[*_RELATIONS, "registered_at"])
    except LabError as refusal:
        return [str(refusal)]
    except ValidationError as problem:
        return [
            f"{HEADINGS.get(name, name)}: {text}"
            for name, said in problem.message_dict.items()
            for text in said
        ]
    found = []
    if not gauge.calibration_needed and not gauge.no_calibration_reason:
        found.append("A gauge without calibration needs the reason why.")
    if gauge.owner != Gauge.Owner.OWN and not gauge.owner_name:
        found.append("Name the owner of a gauge that isn't the plant's own.")
    return found
