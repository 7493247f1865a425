"""L4: why the issuer of a calibration was competent for it on its day, by the route that the certificate came.

Routes after ILAC-P10: 1 an institute with the service in the mutual recognition arrangement, 2 an accredited
laboratory with the service in its scope, 3a and 3b others with evidence that a person approved.
"""

from __future__ import annotations

from labsys.pages.figures import plain
from standards.traceability.models import Accreditation, CertificateReceived, Issuer
from standards.traceability.quantities import base_of
from standards.traceability.queries import scopes
from standards.traceability.queries.shapes import Facts, Fault, LinkCheck, judged

Route = CertificateReceived.Route
WORD = "issuer"
KINDS = {Route.INSTITUTE: Issuer.Kind.INSTITUTE, Route.ACCREDITED: Issuer.Kind.ACCREDITED}


def issuer(facts: Facts, *, upstream_holds: bool) -> LinkCheck:
    """Check L4 by the route; in the house the chain above must exist and hold."""
    received = facts.certificate
    if received is None or received.route == Route.IN_HOUSE:
        return _in_house(facts, upstream_holds)
    if received.route in KINDS:
        return _recognised(facts, received)
    return _by_evidence(facts, received)


def is_terminus(facts: Facts, check: LinkCheck) -> bool:
    """Say whether a chain may end here: a competent issuer outside, by whatever route."""
    outside = facts.certificate is not None and facts.certificate.route != Route.IN_HOUSE
    return outside and check.holds is True


def _in_house(facts: Facts, upstream_holds: bool) -> LinkCheck:
    if not facts.upstream:
        said = f"Calibrated in the house, but on no standard: the chain of {facts.tag} ends in nothing."
        return judged("L4", WORD, [facts.fault("F20", said)], "")
    if not upstream_holds:
        return LinkCheck("L4", WORD, False, "Calibrated in the house, on a chain that is broken above.")
    return LinkCheck("L4", WORD, True, "Calibrated in the house, on a chain of its own that holds.")


def _recognised(facts: Facts, received: CertificateReceived) -> LinkCheck:
    day, name = facts.calibration.calibrated_on, received.issuer.name
    if received.issuer.kind != KINDS[Route(received.route)]:
        said = f"{name} is recorded as “{received.issuer.get_kind_display()}”, which route {received.route} isn't for."
        return judged("L4", WORD, [facts.fault("F08", said)], "")
    held = scopes.in_force(facts.scopes, day)
    lines = [line for line in held if line.quantity == received.quantity]
    faults = _scope_faults(facts, received, bool(held), lines)
    if received.route == Route.ACCREDITED and not received.accreditation_mark:
        said = f"Certificate {received.number} carries no accreditation mark: it was not issued under accreditation."
        faults.append(facts.fault("F09", said, "warn"))
    listed = ", ".join(dict.fromkeys(f"{line.body} {line.number}" for line in lines))
    return judged("L4", WORD, faults, f"{name} was recognised for this service on {day}: {listed}.")


def _scope_faults(
    facts: Facts, received: CertificateReceived, held: bool, lines: list[Accreditation]
) -> list[Fault]:
    day, name = facts.calibration.calibrated_on, received.issuer.name
    if not lines:
        what = f"for “{received.quantity}” " if held else ""
        said = f"{name} had no accreditation {what}in force on the day of calibration, {day}."
        return [facts.fault("F08", said)]
    faults = [
        facts.fault(
            "F08", f"{value.element.label} lies outside the range {name} was recognised for on {day}."
        )
        for value in scopes.outside(lines, facts.values)
    ]
    base = base_of(received.quantity)
    for value, least in scopes.below_cmc(lines, facts.values):
        said = (
            f"U of {value.element.label} is smaller than the {plain(least)} {base} {name} was recognised for."
        )
        faults.append(facts.fault("F11", said))
    return faults


def _by_evidence(facts: Facts, received: CertificateReceived) -> LinkCheck:
    answer = facts.review.answers.get("traceability", {}) if facts.review else {}
    remark = str(answer.get("remark", "")).strip()
    if answer.get("yes") is True and remark:
        return LinkCheck(
            "L4", WORD, True, f"Route {received.route}, evidence approved at the review: {remark}"
        )
    said = f"Route {received.route} needs evidence of competence, approved at the review in writing; there is none."
    return judged("L4", WORD, [facts.fault("F10", said)], "")
