"""What the results stand on: the standards with their certificates, the agreement, adjustments, deviations, remarks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from instruments.certificates.document import parts as p
from instruments.certificates.document import words
from instruments.certificates.document.conformity import Grounds
from instruments.certificates.gathering.sources import Sources
from instruments.certificates.models import Certificate
from instruments.measuring.models import Run, RunStandard
from instruments.measuring.rejecting import failed_looks, rejections
from labsys.laboratory.queries import agreement_in_force, local_date
from standards.register.models import Calibration
from standards.traceability.models import CertificateReceived


def standards(sources: Sources) -> tuple[p.StandardUsed, ...]:
    """List the standards of the runs reported, each with the certificate of the calibration that was used."""
    rows = RunStandard.objects.filter(run__in=sources.runs).select_related("standard__tag", "calibration")
    found = {row.calibration_id: row for row in rows.order_by("standard__tag__text", "pk")}
    return tuple(_standard(row) for row in found.values())


def _standard(row: RunStandard) -> p.StandardUsed:
    number, issuer, route = certificate_of(row.calibration)
    return p.StandardUsed(
        tag=row.standard.tag.text,
        name=row.standard.name,
        serial=row.standard.serial,
        certificate=number,
        issuer=issuer,
        route=route,
        calibrated_on=row.calibration.calibrated_on,
        due_on=row.calibration.due_on,
    )


def certificate_of(calibration: Calibration) -> tuple[str, str, str]:
    """Give number, issuer and route of the certificate behind a calibration; empty texts where there is none."""
    received = CertificateReceived.objects.filter(calibration=calibration).select_related("issuer").first()
    if received is not None:
        route = CertificateReceived.Route(received.route).label.split(": ", 1)[-1]
        return received.number, received.issuer.name, route
    kind, _, key = calibration.evidence.partition(":")
    own = Certificate.objects.filter(session_id=key).first() if kind == "session" and key.isdigit() else None
    return (own.number, "this laboratory", "in the house, on its own chain") if own else ("", "", "")


def agreement_ground(sources: Sources) -> Grounds:
    """Give limits, rule and who agreed to them, as they stood when the session opened."""
    agreement = sources.session.agreement
    day = f", {local_date(agreement.valid_from):%Y-%m-%d}" if agreement else ""
    return Grounds(
        source=sources.basis.limits_source,
        confirmed=sources.basis.limits_confirmed,
        by_customer=limits_are_the_customers(sources),
        agreed=f"{sources.session.gauge.department.name}, by {sources.basis.agreed_by}{day}",
        rule=sources.basis.decision_rule(),
    )


def customer_data(sources: Sources) -> tuple[str, ...]:
    """Name what the customer supplied: the limits, where the agreement states its own (17025, 7.8.2.2)."""
    if not limits_are_the_customers(sources):
        return ()
    return (f"The limits of error were stated by the customer ({sources.basis.limits_source}).",)


def limits_are_the_customers(sources: Sources) -> bool:
    """Say whether the agreement states limits of its own; otherwise those of the gauge or its model hold."""
    agreement = sources.session.agreement
    return agreement is not None and bool(agreement.limit_rows)


def adjustments(sources: Sources) -> tuple[p.Adjustment, ...]:
    """List what was done between the sets of results."""
    rows = sources.session.adjustments.select_related("by").order_by("at", "pk")
    return tuple(
        p.Adjustment(row.what, local_date(row.at), row.by.name, row.parts, row.seal, row.firmware)
        for row in rows
    )


def deviations(sources: Sources) -> tuple[p.Deviation, ...]:
    """List the rules that were not kept, as accepted."""
    rows = sources.session.deviations.select_related("accepted_by").order_by("at", "pk")
    return tuple(
        p.Deviation(row.sentence, row.reason, row.accepted_by.name, row.owner_consent) for row in rows
    )


def remarks(sources: Sources) -> tuple[str, ...]:
    """Say what a reader should know besides: looks that weren't good, struck readings, sets kept in the record."""
    return tuple(_remarks(sources))


def _remarks(sources: Sources) -> Iterator[str]:
    for run in sources.runs:
        yield from _looks(run, sources)
    struck = sources.readings.filter(strike__isnull=False).count()
    if struck:
        yield f"{_count(struck, 'reading')} struck with a reason and kept in the laboratory's record."
    if sources.runs_between:
        yield (
            f"{_count(sources.runs_between, 'set')} of results between the adjustments kept in the laboratory's record."
        )


def _count(number: int, noun: str) -> str:
    return f"1 {noun} was" if number == 1 else f"{number} {noun}s were"


def _looks(run: Run, sources: Sources) -> Iterator[str]:
    texts = {look.code: look.text.rstrip(".") for look in sources.content.looks if not look.ends_job}
    for check in failed_looks(run):
        if check.code in texts:
            note = f" ({check.note})" if check.note else ""
            yield f"{words.STAGES[run.stage]}, not good: {texts[check.code]}{note}."


def as_found_missing(sources: Sources) -> str:
    """Say why there are no results as found where the gauge was adjusted without any."""
    first = sources.runs[0]
    if len(sources.runs) == 1 or any(one.run_id == first.pk for one in sources.results):
        return ""
    return words.ONLY_LEFT.format(reason=" ".join(rejections(first)) or "no reading was possible")


def due(sources: Sources, due_on: date | None, now: datetime) -> p.Due | None:
    """Give the due date where the agreement in force now says that it is printed (17025, 7.8.4.3)."""
    gauge = sources.session.gauge
    agreement = agreement_in_force(gauge.department, gauge.model.family, now)
    if due_on is None or agreement is None or not agreement.due_date_printed:
        return None
    return p.Due(due_on, f"agreed by {agreement.agreed_by}, {local_date(agreement.valid_from):%Y-%m-%d}")
