"""Acts on elements: adding one to a standard, withdrawing a worn one, taking it back."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import ClassVar

from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require
from labsys.laboratory.models import MeasuringFunction
from labsys.pages.figures import said_size
from standards.register.access import KEEP_STANDARDS, MANAGE_STANDARDS
from standards.register.models import Element, ElementState, Standard
from standards.register.operations.states import ReasonMissing


class UnknownFunction(LabError, ValueError):
    """A measuring function that no gauge has."""

    code: ClassVar[str] = "unknown-function"
    sentence: ClassVar[str] = "Expected a measuring function out of {known}, found “{found}”."
    field: ClassVar[str | None] = "functions"


class NotInUse(LabError):
    """An element is withdrawn, or in use, already."""

    code: ClassVar[str] = "element-state-unchanged"
    sentence: ClassVar[str] = "The element {element} of {tag} {is_so} already; nothing was changed."


class NothingChanged(LabError):
    """A change that changes nothing."""

    code: ClassVar[str] = "nothing-changed"
    sentence: ClassVar[str] = "What was sent about {what} is what is written already; nothing was changed."


class NominalStands(LabError, ValueError):
    """A nominal that values were given for."""

    code: ClassVar[str] = "nominal-stands"
    sentence: ClassVar[str] = (
        "The element {element} of {tag} has values that were given for {found}; its nominal stands. "
        "Withdraw it, and add the other element by itself."
    )
    field: ClassVar[str | None] = "nominal_mm"


@dataclass(frozen=True)
class ElementData:
    """An element as it is entered: label, nominal, what it serves, whether blocks may be wrung to it.

    The nominal is in mm, that of an angle in arc seconds. ``continuous``: it serves every length up to its nominal.
    """

    label: str
    nominal_mm: Decimal
    functions: tuple[str, ...] = ()
    serial: str = ""
    stackable: bool = False
    continuous: bool = False


@act("register.add-element")
def add_element(*, standard: Standard, data: ElementData, by: Acting, now: datetime) -> Element:
    """Add an element; raises UnknownFunction, ValidationError for a label taken or a nominal not above zero."""
    require(by, MANAGE_STANDARDS)
    _require_known(data.functions)
    row = Element(standard=standard, **{**asdict(data), "functions": list(data.functions)})
    row.full_clean(exclude=["functions"])
    row.save()
    note(f"standard:{standard.pk}", after={"element": row.pk, **asdict(data)})
    return row


@act("register.change-element")
def change_element(*, element: Element, data: ElementData, reason: str, by: Acting, now: datetime) -> Element:
    """Change what is written about an element, with the reason.

    Raises ReasonMissing, NothingChanged, UnknownFunction, NominalStands where it has values, ValidationError.
    """
    require(by, MANAGE_STANDARDS)
    if not reason.strip():
        raise ReasonMissing(what="A change of what is written about an element")
    _require_known(data.functions)
    row = Element.objects.select_for_update().get(pk=element.pk)
    given = {**asdict(data), "functions": list(data.functions)}
    changed = {name: value for name, value in given.items() if getattr(row, name) != value}
    if not changed:
        raise NothingChanged(what=f"the element {row.label}")
    if "nominal_mm" in changed and row.values.exists():
        found = said_size(row.nominal_mm, element.standard.quantity.base)
        raise NominalStands(element=row.label, tag=str(element.standard.tag), found=found)
    before = {name: getattr(row, name) for name in changed}
    for name, value in changed.items():
        setattr(row, name, value)
    row.full_clean(exclude=["functions"])
    row.save(update_fields=list(changed))
    about = {"element": row.pk}
    note(f"standard:{row.standard_id}", reason=reason.strip(), before=about | before, after=about | changed)
    return row


@act("register.withdraw-element")
def withdraw_element(*, element: Element, reason: str, by: Acting, now: datetime) -> ElementState:
    """Take a worn, damaged or lost element out of use; its values stay on record."""
    require(by, KEEP_STANDARDS)
    return _set_use(element, False, reason, now)


@act("register.restore-element")
def restore_element(*, element: Element, reason: str, by: Acting, now: datetime) -> ElementState:
    """Take an element back into use, with the reason that makes it fit again."""
    require(by, KEEP_STANDARDS)
    return _set_use(element, True, reason, now)


def _require_known(functions: tuple[str, ...]) -> None:
    for function in functions:
        if function not in MeasuringFunction.values:
            raise UnknownFunction(found=function, known=", ".join(MeasuringFunction.values))


def _set_use(element: Element, in_use: bool, reason: str, now: datetime) -> ElementState:
    if not reason.strip():
        raise ReasonMissing(what="Taking an element out of use or back")
    current: ElementState | None = ElementState.objects.filter(element=element).in_force(now)
    was_in_use = current is None or current.in_use
    if was_in_use == in_use:
        is_so = "is in use" if in_use else "is withdrawn"
        raise NotInUse(element=element.label, tag=str(element.standard.tag), is_so=is_so)
    row = ElementState.objects.create(
        element=element, in_use=in_use, reason=reason.strip(), valid_from=now, recorded_at=now
    )
    note(
        f"standard:{element.standard_id}",
        reason=row.reason,
        before={"element": element.label, "in_use": was_in_use},
        after={"element": element.label, "in_use": in_use},
    )
    return row
