"""The conditions of a valid link, each a function of loaded facts and the moment of use; nothing asks the database.

Numbered as an assessor's list has them: L1 certificate, L2 dates, L3 review, L4 issuer (in ``competence``), L5 values
and U, L6 conditions, L7 in service, L8 corrections, L10 later doubts. L9, the person and the room, is the session's.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from labsys.pages.figures import plain
from standards.register.models import ElementValue, Standard, StandardState
from standards.traceability.models import CertificateReview
from standards.traceability.queries.scopes import ROUNDING, at_two
from standards.traceability.queries.shapes import NOT_CHECKED, Facts, Fault, LinkCheck, Use, judged

Accepted = CertificateReview.Decision.ACCEPT


def certificate(facts: Facts) -> LinkCheck:
    """Check L1: there is a certificate, its file is the one that came, and it is for this very item."""
    received, faults = facts.certificate, list[Fault]()
    if received is None:
        made = facts.calibration.evidence
        if not made:
            faults.append(facts.fault("F03", f"Nothing stands behind this calibration of {facts.tag}."))
        return judged("L1", "certificate", faults, f"Made in this laboratory: {made.replace(':', ' ')}.")
    if facts.file_fault:
        faults.append(facts.fault("F03", f"Certificate {received.number}: {facts.file_fault}."))
    ours = facts.calibration.standard.serial
    if _folded(received.serial_on_certificate) != _folded(ours):
        found = f"The certificate names serial {received.serial_on_certificate}, the register {ours}."
        faults.append(facts.fault("F05", found))
    fine = f"Certificate {received.number} is on file, unchanged, and names serial {ours}."
    return judged("L1", "certificate", faults, fine)


def dates(facts: Facts, use: Use) -> LinkCheck:
    """Check L2: calibrated before it was used, used through the end of its due day; issued after it was done."""
    row, received, faults = facts.calibration, facts.certificate, list[Fault]()
    if row.calibrated_on > use.day:
        faults.append(facts.fault("F27", f"Calibrated on {row.calibrated_on}, after its use on {use.day}."))
    if use.day > row.due_on:
        faults.append(facts.fault("F01", f"Overdue on {use.day}: it held through {row.due_on}."))
    if received and received.issued_on < row.calibrated_on:
        faults.append(facts.fault("F27", f"Issued on {received.issued_on}, before the calibration."))
    fine = f"Calibrated on {row.calibrated_on}, valid through {row.due_on}; used on {use.day}."
    return judged("L2", "dates", faults, fine)


def review(facts: Facts, use: Use) -> LinkCheck:
    """Check L3: reviewed and accepted before it was used, and not replaced as a whole by then."""
    row, faults = facts.calibration, list[Fault]()
    accepted = row.accepted_at is not None and row.accepted_at <= use.end
    if row.rejected_at is not None:
        faults.append(facts.fault("F04", "It was rejected at its review."))
    elif not accepted:
        faults.append(facts.fault("F04", f"It was not reviewed and accepted by {use.day}."))
    elif facts.certificate and (facts.review is None or facts.review.decision != Accepted):
        faults.append(facts.fault("F04", "It was put to use without a review of its certificate."))
    elif facts.values and all(replaced(facts, value, use.start) for value in facts.values):
        faults.append(_superseded(facts, use))
    who = f" by {facts.review.reviewer.name}" if facts.review else ""
    return judged("L3", "review", faults, f"Reviewed and accepted{who}, and current on {use.day}.")


def values(facts: Facts, above: Sequence[Facts]) -> LinkCheck:
    """Check L5: values with U and k, U small enough for the use, and not smaller than what the standard above gives."""
    if not facts.values and facts.calibration.standard.kind == Standard.Kind.THERMOMETER:
        return LinkCheck(
            "L5", "values and U", None, "Not checked yet: its corrections stand in the certificate alone."
        )
    faults = [*_stated(facts), *_wide(facts), *_shrunk(facts, above)]
    fine = f"{len(facts.values)} of {facts.elements} elements have values with U and k."
    return judged("L5", "values and U", faults, fine)


def service(facts: Facts, use: Use) -> LinkCheck:
    """Check what is known of L7: it was in service. Checks between calibrations and open cases are not asked yet."""
    during = _states_during(facts.states, use.start, use.end)
    if StandardState.State.IN_SERVICE not in during:
        words = " and ".join(sorted(StandardState.State(state).label for state in during)) or "not registered"
        fault = facts.fault("F02", f"{facts.tag} was not in service on {use.day}: {words}.")
        return judged("L7", "in service", [fault], "")
    return LinkCheck(
        "L7", "in service", None, f"In service; open cases and checks between calibrations {NOT_CHECKED}."
    )


def corrections(facts: Facts, use: Use) -> LinkCheck:
    """Check L8: the values used are those of this calibration, and the ones in force at that moment.

    Where nobody says which values were used, a calibration of which some were replaced can't be judged.
    """
    known = use.values if use.values is not None else facts.values
    foreign = [value for value in known if value.calibration_id != facts.calibration.pk]
    old = [value for value in known if value not in foreign and replaced(facts, value, use.start)]
    if use.values is None and old and len(old) < len(known):
        said = f"{len(old)} of {len(known)} values had been replaced; which were used is not said here."
        return LinkCheck("L8", "corrections", None, said)
    faults = []
    if old:
        said = f"Replaced before {use.day}: the value of {_labels(old)}."
        faults.append(facts.fault("F13", said) if len(old) < len(facts.values) else _superseded(facts, use))
    if foreign:
        faults.append(facts.fault("F13", f"Not from this calibration: the value of {_labels(foreign)}."))
    return judged("L8", "corrections", faults, f"The values of this calibration were in force on {use.day}.")


def unasked() -> tuple[LinkCheck, LinkCheck]:
    """Name the conditions that nothing checks yet: L6 conditions and procedure, L10 doubts that came later."""
    fit = f"Whether the conditions of use are those that the budget assumes is {NOT_CHECKED}."
    doubts = f"Whether something found later questions it is {NOT_CHECKED}."
    return LinkCheck("L6", "conditions", None, fit), LinkCheck("L10", "later doubts", None, doubts)


def replaced(facts: Facts, value: ElementValue, at: datetime) -> bool:
    """Say whether a newer calibration accepted by ``at`` gave the element another value."""
    own = facts.calibration
    mine = (own.calibrated_on, own.accepted_at or at, own.pk)
    return any(other > mine and other[1] <= at for other in facts.successors.get(value.element_id, ()))


def _superseded(facts: Facts, use: Use) -> Fault:
    return facts.fault("F13", f"A newer calibration of {facts.tag} had replaced it by {use.day}.")


def _stated(facts: Facts) -> list[Fault]:
    if not facts.values:
        return [facts.fault("F07", f"It gives no element of {facts.tag} a value.")]
    bare = [value for value in facts.values if value.basis == "calibrated" and not (value.U_mm and value.k)]
    return [facts.fault("F07", f"No U and k for {_labels(bare)}.")] if bare else []


def _wide(facts: Facts) -> list[Fault]:
    """Compare U with the largest that the standard's use allows (17025, 6.4.5), both at k = 2."""
    standard = facts.calibration.standard
    if standard.wanted_u_constant_mm is None:
        return []
    share = standard.wanted_u_per_length or Decimal(0)
    wide = [
        value
        for value in facts.values
        if (found := at_two(value)) is not None
        and found > standard.wanted_u_constant_mm + share * value.element.nominal_mm
    ]
    said = f"U is larger than the use of {facts.tag} allows for {_labels(wide)}."
    return [facts.fault("Q5", said)] if wide else []


def _shrunk(facts: Facts, above: Sequence[Facts]) -> list[Fault]:
    """Compare u with that of the standard above: the same nominal where there is one, else its smallest.

    A necessary condition only, since the record doesn't say which element served for which.
    """
    sources = [value for one in above for value in one.values if at_two(value) is not None]
    small = [
        value
        for value in facts.values
        if (found := at_two(value)) is not None
        and (least := _least(sources, value.element.nominal_mm)) is not None
        and found < least * ROUNDING
    ]
    said = f"U shrinks going down: that of {_labels(small)} is smaller than its standard's."
    return [facts.fault("F12", said)] if small else []


def _least(sources: list[ElementValue], nominal_mm: Decimal) -> Decimal | None:
    same = [value for value in sources if value.element.nominal_mm == nominal_mm]
    return min((found for value in same or sources if (found := at_two(value)) is not None), default=None)


def _states_during(rows: Sequence[StandardState], start: datetime, end: datetime) -> set[str]:
    known = [row for row in rows if row.valid_from <= end]
    before = [row for row in known if row.valid_from <= start]
    return {row.state for row in (*before[-1:], *(row for row in known if row.valid_from > start))}


def _labels(rows: Sequence[ElementValue], most: int = 5) -> str:
    names = [value.element.label or plain(value.element.nominal_mm) for value in rows]
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _folded(serial: str) -> str:
    return "".join(serial.split()).casefold()
