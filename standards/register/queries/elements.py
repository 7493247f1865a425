"""Reads of elements: the value in force at an instant, its history, and what the planner may choose from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from django.db.models import OuterRef, Q, QuerySet, Subquery

from labsys.errors import LabError
from labsys.laboratory.queries import local_date
from standards.register.models import (
    Calibration,
    Element,
    ElementState,
    ElementValue,
    Standard,
    StandardState,
)
from standards.register.queries.usability import StandardOverdue, require_usable


class StandardOutOfRange(LabError):
    """The element has no value that holds on that day: never calibrated, or withdrawn from its set."""

    code: ClassVar[str] = "standard-out-of-range"
    sentence: ClassVar[str] = (
        "The element {element} of {tag} {why} on {day}. Choose an element that the certificate in force covers."
    )
    field: ClassVar[str | None] = "standard"


@dataclass(frozen=True)
class Available:
    """An element that may be used, with its value in force."""

    element: Element
    value: ElementValue
    calibration: Calibration
    standard: Standard


@dataclass(frozen=True)
class ElementAt:
    """An element as of an instant: its value in force then (None: none), and every value known then, newest first."""

    element: Element
    in_use: bool
    value: ElementValue | None
    history: tuple[ElementValue, ...]


def value_in_force(element: Element, at: datetime) -> ElementValue | None:
    """Find the value that the newest calibration accepted by ``at`` gave the element; None when none did.

    A certificate for a replaced block alone leaves the values of the others as they are.
    """
    return _accepted(at).filter(element=element).select_related("calibration").first()


def values_in_force(elements: Iterable[Element], at: datetime) -> dict[int, ElementValue]:
    """Find the values in force of several elements at once, by the element's id; those without have no entry."""
    found: dict[int, ElementValue] = {}
    rows = _accepted(at).filter(element__in=[element.pk for element in elements])
    for value in rows.select_related("calibration"):
        found.setdefault(value.element_id, value)
    return found


def require_value(element: Element, at: datetime) -> ElementValue:
    """Give the element's value in force at ``at``, or refuse: the standard as a whole, then this element.

    Raises what ``require_usable`` raises, StandardOutOfRange for an element without a value or withdrawn, and
    StandardOverdue where its value stands on an older calibration that no longer holds.
    """
    require_usable(element.standard, at)
    day = local_date(at)
    data: dict[str, Any] = {"tag": str(element.standard.tag), "element": element.label, "day": f"{day}"}
    if not _in_use(element, at):
        raise StandardOutOfRange(why="was withdrawn from use", **data)
    value = value_in_force(element, at)
    if value is None:
        raise StandardOutOfRange(why="had no accepted value", **data)
    if day > value.calibration.due_on:
        raise StandardOverdue(due_on=f"{value.calibration.due_on}", **data)
    return value


def available(function: str, at: datetime) -> list[Available]:
    """List what may be used for a measuring function at ``at``, shortest first: in service, accepted, current.

    Two queries, whatever the number of standards.
    """
    return _with_values([element for element in _usable_elements(at) if function in element.functions], at)


def all_available(at: datetime) -> list[Available]:
    """List what may be used at ``at``, whatever it serves, as ``available`` does for one measuring function."""
    return _with_values(list(_usable_elements(at)), at)


def _with_values(rows: list[Element], at: datetime) -> list[Available]:
    ids = [element.value_at for element in rows]  # type: ignore[attr-defined]
    values = ElementValue.objects.select_related("calibration").in_bulk(ids)
    day = local_date(at)
    found = [
        Available(element, value, value.calibration, element.standard)
        for element, value in ((row, values[row.value_at]) for row in rows)  # type: ignore[attr-defined]
        if day <= value.calibration.due_on
    ]
    return sorted(found, key=lambda one: (one.element.nominal_mm, one.standard.tag.text, one.element.pk))


def elements_at(standard: Standard, at: datetime) -> tuple[ElementAt, ...]:
    """List the elements of a standard with the value in force at ``at`` and the history known then.

    Three queries, whatever the number of elements.
    """
    histories: dict[int, list[ElementValue]] = {}
    for value in _accepted(at).filter(calibration__standard=standard).select_related("calibration"):
        histories.setdefault(value.element_id, []).append(value)
    out = _withdrawn(standard, at)
    return tuple(
        ElementAt(element, element.pk not in out, history[0] if history else None, tuple(history))
        for element in standard.elements.all()
        for history in (histories.get(element.pk, []),)
    )


def _accepted(at: datetime) -> QuerySet[ElementValue]:
    """Find the values accepted by ``at``; the first one of an element is the one in force."""
    return ElementValue.objects.filter(calibration__accepted_at__lte=at).order_by(
        "-calibration__calibrated_on", "-calibration__accepted_at", "-calibration_id"
    )


def _usable_elements(at: datetime) -> QuerySet[Element]:
    """Find the elements in use of standards in service that have a value, with its id as ``value_at``."""
    states = StandardState.objects.filter(standard=OuterRef("standard")).as_of(at)
    own_states = ElementState.objects.filter(element=OuterRef("pk")).as_of(at)
    values = _accepted(at).filter(element=OuterRef("pk"))
    rows = Element.objects.select_related("standard__tag").annotate(
        state_at=Subquery(states.values("state")[:1]),
        in_use_at=Subquery(own_states.values("in_use")[:1]),
        value_at=Subquery(values.values("pk")[:1]),
    )
    not_withdrawn = Q(in_use_at=True) | Q(in_use_at=None)
    return rows.filter(not_withdrawn, state_at=StandardState.State.IN_SERVICE, value_at__isnull=False)


def _in_use(element: Element, at: datetime) -> bool:
    row: ElementState | None = ElementState.objects.filter(element=element).in_force(at)
    return row is None or row.in_use


def _withdrawn(standard: Standard, at: datetime) -> set[int]:
    in_use: dict[int, bool] = {}
    for row in ElementState.objects.filter(element__standard=standard).as_of(at):
        in_use.setdefault(row.element_id, row.in_use)
    return {element for element, used in in_use.items() if not used}
