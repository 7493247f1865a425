"""Cells of a sheet of gauges: what each text means, or in a sentence why it means nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model

from instruments.inventory.models import Gauge, GaugeModel
from labsys.accounts.models import Person
from labsys.laboratory.models import Department, Place

YES, NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")


class Unfit(ValueError):
    """A cell that can't be read; its text is the sentence."""


@dataclass
class Known:
    """What cells may refer to, read once for the whole sheet; each text leads to all it may mean."""

    models: dict[str, list[GaugeModel]]
    departments: dict[str, list[Department]]
    places: dict[str, list[Place]]
    people: dict[str, list[Person]]
    taken: set[str]
    times: Counter[str] = field(default_factory=Counter)


def _tag(text: str, known: Known) -> str:
    if not text:
        raise Unfit("is missing.")
    if len(text) > 40:
        raise Unfit(f"“{text[:20]}…” is longer than 40 characters.")
    if text.casefold() in known.taken:
        raise Unfit(f"“{text}” is taken. A tag stays with one item for life; choose another.")
    if known.times[text.casefold()] > 1:
        raise Unfit(f"“{text}” stands in {known.times[text.casefold()]} rows of this sheet.")
    return text


def _serial(text: str, known: Known) -> str:
    if not text:
        raise Unfit("is missing. Write “none” where the gauge has none.")
    return text


def _one(what: str, text: str, rows: Mapping[str, list[Any]], hint: str) -> Any:
    if not text:
        raise Unfit(f"is missing. {hint}")
    found: list[Model] = rows.get(text.casefold(), [])
    if not found:
        raise Unfit(f"there is no {what} “{text}”. {hint}")
    if len(found) > 1:
        raise Unfit(f"“{text}” is the name of {len(found)}. {hint}")
    return found[0]


def _model(text: str, known: Known) -> Any:
    return _one(
        "model", text, known.models, "Write maker and designation as on the page of models, or add it there."
    )


def _department(text: str, known: Known) -> Any:
    return _one("department", text, known.departments, "Write its code or its name.")


def _place(text: str, known: Known) -> Any:
    return _one("place", text, known.places, "Write the name of a place on record.")


def _custodian(text: str, known: Known) -> Any:
    return _one("person", text, known.people, "Write the user name.") if text else None


def _owner(text: str, known: Known) -> str:
    word = text.casefold() or Gauge.Owner.OWN
    if word not in Gauge.Owner.values:
        raise Unfit(f"“{text}” is none of {', '.join(Gauge.Owner.values)}.")
    return word


def _functions(text: str, known: Known) -> tuple[str, ...]:
    named = text.replace(",", ";").split(";")
    return tuple(one.strip().casefold().replace(" ", "_") for one in named if one.strip())


def _yes(default: bool) -> Callable[[str, Known], bool]:
    def read(text: str, known: Known) -> bool:
        if text.casefold() in (*YES, *NO):
            return text.casefold() in YES
        if text:
            raise Unfit(f"“{text}” is neither yes nor no.")
        return default

    return read


def _text(text: str, known: Known) -> str:
    return text


READERS: dict[str, Callable[[str, Known], Any]] = {
    "tag": _tag,
    "model": _model,
    "serial": _serial,
    "department": _department,
    "place": _place,
    "custodian": _custodian,
    "owner": _owner,
    "owner_name": _text,
    "functions": _functions,
    "calibration_needed": _yes(True),
    "no_calibration_reason": _text,
    "check_before_use": _yes(False),
    "note": _text,
}
