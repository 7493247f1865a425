"""What a certificate must hold, checked by machine: the list of ISO/IEC 17025:2017, 7.8.2.1 and 7.8.4.1, item by item.

The same numbers and words stand in the published list that the tests compare with. Items that this laboratory's
certificates can't have (sampling, results of others, opinions, an accreditation mark) have no field to check.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from instruments.certificates.document.parts import Document
from instruments.certificates.document.results import Line
from instruments.certificates.document.words import TITLE

Check = Callable[[Document], bool]


def missing_items(document: Document) -> tuple[str, ...]:
    """Name every item that should be in the document and isn't, or is and shouldn't be; empty for a complete one."""
    return tuple(item for item, is_there in ITEMS if not is_there(document))


def _said(*texts: str) -> bool:
    return all(text.strip() for text in texts)


def _lines(document: Document) -> list[Line]:
    return [line for stage in document.stages for line in stage.lines]


def _each(test: Callable[[Line], bool]) -> Check:
    """Ask something of every result; without results the answer is no."""
    return lambda document: bool(_lines(document)) and all(map(test, _lines(document)))


def _unless_ended_early(check: Check) -> Check:
    """Ask for results only where there could be any: a gauge rejected at sight was never measured, and it is said."""
    return lambda document: (
        (not document.stages and all(map(_said, document.rejections)) and bool(document.rejections))
        or check(document)
    )


def _dates_in_order(document: Document) -> bool:
    days = (
        document.receipt.received_on,
        document.calibrated_from,
        document.calibrated_to,
        document.issued_on,
    )
    return list(days) == sorted(days)


def _results_complete(document: Document) -> bool:
    said = _said(document.item.unit, document.statements.sign, document.statements.measurand)
    placed = {line.function for line in _lines(document) if line.place}
    numbered = [line.number for line in _lines(document)]
    return (
        said
        and _each(lambda line: _said(line.function, line.printed.error, line.printed.length))(document)
        and all(line.place or line.name for line in _lines(document) if line.function in placed)
        and numbered == list(range(1, len(numbered) + 1))
    )


def _has_two_digits_at_most(text: str) -> bool:
    digits = Decimal(text).as_tuple().digits
    return 0 < len(digits) <= 2 and any(digits)


def _uncertainty_complete(document: Document) -> bool:
    covered = sorted(number for row in document.uncertainty.coverage for number in row.results)
    measured = [line for line in _lines(document) if line.kind != "attribute"]
    return (
        _said(document.uncertainty.basis, *(row.sentence for row in document.uncertainty.coverage))
        and covered == [line.number for line in measured]
        and bool(_lines(document))
        and all(map(_has_uncertainty, measured))
    )


def _has_uncertainty(line: Line) -> bool:
    """Say whether U and k are there, with two digits at most."""
    sizes = (line.U_mm or 0) > 0 and (line.k or 0) > 0
    return sizes and _has_two_digits_at_most(line.printed.U)


def _conditions_complete(document: Document) -> bool:
    found = document.conditions
    ordered = found.temperature_low_c <= found.temperature_mean_c <= found.temperature_high_c
    return ordered and _said(found.soak, found.expansion) and "20 °C" in found.reference


def _traceable(document: Document) -> bool:
    used = {tag for line in _lines(document) for tag in line.standards}
    listed = {row.tag for row in document.standards}
    return (
        _said(document.statements.traceability)
        and bool(used)
        and used <= listed
        and all(_said(row.certificate, row.issuer, row.route) for row in document.standards)
    )


def _standards_in_date(document: Document) -> bool:
    return all(
        _said(row.tag)
        and row.calibrated_on <= document.calibrated_from
        and document.calibrated_to <= row.due_on
        for row in document.standards
    )


def _both_sets(document: Document) -> bool:
    names = [stage.name for stage in document.stages]
    if document.adjustments:
        return names == ["as-found", "as-left"] or (names == ["as-left"] and _said(document.as_found_missing))
    return len(names) == 1 and _said(document.statements.sets)


def _conformity_complete(document: Document) -> bool:
    judged = [line for line in _lines(document) if line.verdict]
    if not judged:
        return document.conformity is None
    found = document.conformity
    if found is None or not all(map(_has_limit, judged)):
        return False
    named = _said(found.covers, found.specification, found.agreed, found.rule, found.uncertainty, found.risk)
    with_U = [line for line in judged if line.kind != "attribute"]
    return named and bool(found.findings) and all(line.U_used_mm is not None for line in with_U)


def _has_limit(line: Line) -> bool:
    return line.kind == "attribute" or line.lower_mm is not None or line.upper_mm is not None


def _confirmed_or_said(document: Document) -> bool:
    found = document.conformity
    return found is None or found.confirmed or "not confirmed" in found.specification


def _customer_data_said(document: Document) -> bool:
    found = document.conformity
    return all(map(_said, document.customer_data)) and bool(
        document.customer_data or found is None or not found.by_customer
    )


def _signed(document: Document) -> bool:
    meanings = {
        signer.meaning for signer in document.signers if _said(signer.person, signer.name, signer.role)
    }
    return {"performed", "authorised"} <= meanings


def _second_person_or_said(document: Document) -> bool:
    performed = {signer.person for signer in document.signers if signer.meaning == "performed"}
    authorised = {signer.person for signer in document.signers if signer.meaning == "authorised"}
    return not performed & authorised or _said(document.statements.one_signature)


ITEMS: tuple[tuple[str, Check], ...] = (
    ("1 title", lambda d: d.title == TITLE),
    ("2 name and address of the laboratory", lambda d: _said(d.laboratory.name, d.laboratory.address)),
    ("3 place of the work", lambda d: _said(d.place)),
    ("4 unique number", lambda d: _said(d.number, d.code, d.verification_url)),
    ("5 customer and contact", lambda d: _said(d.customer.name, d.customer.contact)),
    ("6 method with its revision", lambda d: _said(d.method.code, d.method.title) and d.method.revision > 0),
    (
        "7 item with its identification and condition",
        lambda d: _said(
            d.item.tag, d.item.family, d.item.maker, d.item.model, d.item.serial, d.receipt.condition
        ),
    ),
    ("8 date of receipt", lambda d: d.receipt.received_on <= d.calibrated_from),
    ("9 dates of calibration", lambda d: d.calibrated_from <= d.calibrated_to),
    ("10 date of issue", _dates_in_order),
    ("12 results relate only to the item", lambda d: _said(d.statements.relates_only)),
    ("13 results with unit, sign, measurand and position", _unless_ended_early(_results_complete)),
    ("14 deviations with their reason", lambda d: all(_said(r.sentence, r.reason) for r in d.deviations)),
    ("15 person authorising", _signed),
    ("15 second person, or the decision to work without", _second_person_or_said),
    ("17 not to be reproduced except in full", lambda d: _said(d.statements.reproduction)),
    ("18 data supplied by the customer", _customer_data_said),
    ("19 expanded uncertainty with k and probability", _unless_ended_early(_uncertainty_complete)),
    ("20 conditions", _conditions_complete),
    ("21 traceability", _unless_ended_early(_traceable)),
    ("22 results as found and as left", _unless_ended_early(_both_sets)),
    ("23 statement of conformity with its grounds", _conformity_complete),
    ("23 limits confirmed, or said that they are not", _confirmed_or_said),
    ("25 standards used, in date", _standards_in_date),
    ("26 no due date without agreement", lambda d: d.due is None or _said(d.due.agreement)),
    (
        "28 what it replaces, and why",
        lambda d: d.replaces is None or _said(d.replaces.changes, d.replaces.reason),
    ),
    ("29 disclaimer for a known departure", lambda d: not d.receipt.damaged or _said(d.receipt.departure)),
    ("30 functions not measured", lambda d: not d.not_measured or _said(d.statements.limited)),
)
