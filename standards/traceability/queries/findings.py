"""What the program found about a certificate that waits for its review, beside each question a person answers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from labsys.metrology.units import Unit, from_mm
from labsys.pages.figures import signed
from standards.register.models import Calibration, Element, ElementValue
from standards.register.queries import ElementAt, elements_at, values_in_force
from standards.traceability.models import CertificateReceived
from standards.traceability.queries.chain import Node, chain_of, faults_of
from standards.traceability.queries.scopes import at_two
from standards.traceability.queries.shapes import Fault

LATER = frozenset({"F01", "F02", "F04", "F13"})
"""Faults of a use, not of a certificate: they can't count while nobody has used it."""
ASKED_BY = {"identity": "L1", "uncertainty": "L5", "traceability": "L4"}


@dataclass(frozen=True)
class Observation:
    """Something the program saw; ``holds`` None: it can't tell, a person must look."""

    holds: bool | None
    sentence: str


def review_faults(calibration: Calibration, now: datetime) -> tuple[Fault, ...]:
    """List what forbids accepting a certificate now: its own faults and those of the chain above it."""
    return _blocking(chain_of(calibration, now))


def observations(certificate: CertificateReceived, now: datetime) -> dict[str, tuple[Observation, ...]]:
    """Give, for each question of the review, what the program found; about the signature it can say nothing."""
    calibration = certificate.calibration
    node = chain_of(calibration, now)
    checks = {check.code: Observation(check.holds, check.sentence) for check in node.links}
    found: dict[str, tuple[Observation, ...]] = {
        question: (checks[code],) for question, code in ASKED_BY.items()
    }
    found["traceability"] += tuple(_from_above(node))
    elements = elements_at(calibration.standard, now)
    given = {value.element_id: value for value in calibration.values.select_related("element")}
    found["points"] = tuple(_points(elements, given))
    found["values"] = tuple(_changes(calibration, given, now))
    found["conditions"] = (_conditions(certificate),)
    found["signature"] = (Observation(None, "Nobody but you can see this: open the file and look."),)
    return found


def _blocking(node: Node) -> tuple[Fault, ...]:
    own = node.own_faults
    blocking = [fault for fault in faults_of(node) if fault.level == "block"]
    return tuple(fault for fault in blocking if not (fault in own and fault.code in LATER))


def _from_above(node: Node) -> Iterator[Observation]:
    for fault in faults_of(node):
        if fault not in node.own_faults:
            yield Observation(False if fault.level == "block" else None, fault.sentence)


def _points(elements: tuple[ElementAt, ...], given: dict[int, ElementValue]) -> Iterator[Observation]:
    wanted = [one for one in elements if one.in_use]
    missing = [one.element.label for one in wanted if one.element.pk not in given]
    if missing:
        yield Observation(False, f"No value for {', '.join(missing)}. They keep the values they had.")
    else:
        yield Observation(True, f"All {len(wanted)} elements in use have a value.")


def _changes(
    calibration: Calibration, given: dict[int, ElementValue], now: datetime
) -> Iterator[Observation]:
    """Compare with the values in force: a change beyond the root of both U squared is worth a second look."""
    before = values_in_force((value.element for value in given.values()), now)
    pairs = [(before[pk], value) for pk, value in given.items() if pk in before]
    if not pairs:
        yield Observation(None, "There are no earlier values to compare with: compare with the certificate.")
        return
    far = [(old, new) for old, new in pairs if _is_far(old, new)]
    for old, new in far:
        fine = calibration.standard.quantity.fine
        change = signed(from_mm(new.deviation_mm - old.deviation_mm, fine))
        yield Observation(
            False, f"{new.element.label} changed by {change} {fine}, more than both U together explain."
        )
    if not far:
        since = before[pairs[0][1].element_id].calibration.calibrated_on
        yield Observation(
            True, f"No value changed by more than both U explain ({len(pairs)} compared, {since})."
        )


def _is_far(old: ElementValue, new: ElementValue) -> bool:
    """Say whether |Δ| > √(U₁² + U₂²), both at k = 2: E_n above 1 (ISO/IEC 17043:2010, B.3.1.3, from memory)."""
    sizes = [at_two(value) or Decimal(0) for value in (old, new)]
    change: Decimal = new.deviation_mm - old.deviation_mm
    return change**2 > sizes[0] ** 2 + sizes[1] ** 2


def _conditions(certificate: CertificateReceived) -> Observation:
    if certificate.conditions:
        return Observation(
            None, f"Stated: {certificate.conditions}. Whether they suit the use is for you to say."
        )
    return Observation(False, "No conditions were entered from the certificate.")


@dataclass(frozen=True)
class ValueRow:
    """A value of a certificate beside the one in force before it; sizes in ``fine``, as certificates state them."""

    element: Element
    nominal_mm: Decimal
    deviation: Decimal
    U: Decimal | None
    limit: Decimal | None
    k: Decimal | None
    before: Decimal | None
    change: Decimal | None
    fine: Unit


def value_rows(calibration: Calibration, now: datetime) -> list[ValueRow]:
    """Give the values of a calibration, each with what was in force before it was decided on."""
    decided = calibration.accepted_at or calibration.rejected_at
    before_then = decided - timedelta(microseconds=1) if decided else now
    rows = list(calibration.values.select_related("element").order_by("element__nominal_mm", "element_id"))
    before = values_in_force((row.element for row in rows), before_then)
    fine = calibration.standard.quantity.fine
    return [_row(row, before.get(row.element_id), fine) for row in rows]


def _row(value: ElementValue, before: ElementValue | None, fine: Unit) -> ValueRow:
    return ValueRow(
        element=value.element,
        nominal_mm=value.element.nominal_mm,
        deviation=from_mm(value.deviation_mm, fine),
        U=None if value.U_mm is None else from_mm(value.U_mm, fine),
        limit=None if value.limit_mm is None else from_mm(value.limit_mm, fine),
        k=value.k,
        before=from_mm(before.deviation_mm, fine) if before else None,
        change=from_mm(value.deviation_mm - before.deviation_mm, fine) if before else None,
        fine=fine,
    )
