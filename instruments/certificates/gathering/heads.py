"""The head of a certificate: laboratory, customer, item, receipt, method, conditions."""

from __future__ import annotations

import re
from decimal import Decimal
from statistics import fmean

from instruments.certificates.document import parts as p
from instruments.certificates.document import words
from instruments.certificates.gathering.figures import length_text
from instruments.certificates.gathering.sources import Sources
from instruments.inventory.models import Gauge, GaugeModel
from instruments.measuring.models import Condition
from instruments.measuring.rooms import conditions_while_measuring
from instruments.measuring.soaking import soak_of
from labsys.laboratory.models import LaboratoryDetail
from labsys.laboratory.queries import local_date
from labsys.metrology.exact import plain
from labsys.metrology.units import Quantity, Unit


def laboratory(details: LaboratoryDetail) -> p.Laboratory:
    """Give what the laboratory calls itself."""
    return p.Laboratory(details.name, details.address, details.contact)


def customer(sources: Sources) -> p.Customer:
    """Give for whom the work was done: the department, and the owner where the gauge isn't the plant's own."""
    gauge, agreement = sources.session.gauge, sources.session.agreement
    agreed_by = agreement.agreed_by if agreement else ""
    owner = "" if gauge.owner == Gauge.Owner.OWN else f"{gauge.owner_name} ({gauge.get_owner_display()})"
    return p.Customer(gauge.department.name, gauge.department.contact or agreed_by, owner)


def item(sources: Sources) -> p.Item:
    """Give what was calibrated."""
    gauge, model = sources.session.gauge, sources.model
    unit = Unit(model.unit)
    ends = (model.range_low_mm, model.range_high_mm)
    low, high = (
        length_text(value, unit) if model.quantity is Quantity.ANGLE else f"{length_text(value, unit)} {unit}"
        for value in ends
    )
    return p.Item(
        tag=gauge.tag.text,
        family=model.family.name,
        maker=model.maker,
        model=model.designation,
        serial=gauge.serial,
        unit=model.unit,
        resolution=f"{plain(model.resolution):f}",
        range_text=f"{low} to {high}",
        functions=tuple(words.function_word(name) for name in gauge.functions),
    )


def receipt(sources: Sources) -> p.Receipt:
    """Give when the gauge came and in which state, with the disclaimer where it was damaged (17025, 7.4.3)."""
    event = sources.receipt
    condition = event.condition.strip().rstrip(".") if event else ""
    return p.Receipt(
        received_on=local_date(sources.session.received_at),
        condition=condition or words.NO_DEPARTURE,
        damaged=event is not None and event.damaged,
        departure=words.DEPARTURE if event and event.damaged else "",
    )


def method(sources: Sources) -> p.Method:
    """Give the procedure with its revision, and the documents it follows."""
    revision = sources.session.revision
    assert revision.approved_at is not None, "sessions open on approved revisions only"
    return p.Method(
        code=revision.procedure.code,
        title=revision.procedure.title,
        revision=revision.number,
        approved_on=local_date(revision.approved_at),
        documents=tuple(_document_name(text) for text in sources.content.method),
    )


def _document_name(text: str) -> str:
    """Give the name of a document with its edition, without what the procedure says about it behind comma or colon."""
    return re.split(r", |: ", text, maxsplit=1)[0].rstrip(".")


def conditions(sources: Sources) -> p.Conditions:
    """Give the room as it was noted over the runs reported; an angle doesn't expand."""
    is_angle = sources.model.quantity is Quantity.ANGLE
    rows = [row for run in sources.runs for row in conditions_while_measuring(run)]
    temperatures = [row.temperature_c for row in rows]
    # A note taken from a log is a mean; what the room went through are the ends of its stretch.
    spans = [row.span for row in rows if hasattr(row, "span")]
    return p.Conditions(
        temperature_mean_c=_tenth(Decimal(fmean(temperatures))),
        temperature_low_c=_tenth(min([*temperatures, *(span.temperature_low_c for span in spans)])),
        temperature_high_c=_tenth(max([*temperatures, *(span.temperature_high_c for span in spans)])),
        humidity=_humidity(rows),
        sensors=tuple(sorted({row.sensor.tag.text for row in rows if row.sensor is not None})),
        soak=_soak(sources),
        expansion=words.ANGLE_EXPANSION if is_angle else _expansion(sources.model),
        reference=words.ANGLE_REFERENCE if is_angle else words.REFERENCE,
    )


def _expansion(model: GaugeModel) -> str:
    coefficient = plain(model.expansion_per_k * 1_000_000)
    return f"Linear thermal expansion coefficient taken for the gauge: {coefficient:f} µm/(m·K)"


def _tenth(temperature_c: Decimal) -> Decimal:
    return temperature_c.quantize(Decimal("0.1"))


def _humidity(rows: list[Condition]) -> str:
    noted = [row.humidity_percent for row in rows]
    for span in (row.span for row in rows if hasattr(row, "span")):
        noted += [span.humidity_low_percent, span.humidity_high_percent]
    found = [value for value in noted if value is not None]
    if not found:
        return ""
    low, high = (f"{value:.0f} %" for value in (min(found), max(found)))
    return low if low == high else f"{low} to {high}"


def _soak(sources: Sources) -> str:
    """Say how long the gauge had to take the room's temperature before its first reading."""
    first = sources.span(sources.runs[0])[0]
    soak = soak_of(sources.runs[0], sources.content)
    minutes = int((first - soak.began_at).total_seconds() // 60)
    where = "Beside the standards" if soak.is_laid else "In the laboratory"
    return (
        f"{where} for {_duration(minutes)} before the first reading; "
        f"the procedure asks for at least {_duration(sources.content.conditions.soak_minutes)}."
    )


def _duration(minutes: int) -> str:
    if minutes < 120:
        return f"{minutes} min"
    hours = minutes // 60
    return f"{hours} h" if hours < 72 else f"{hours // 24} days"
