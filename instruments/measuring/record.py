"""The canonical text of a session: everything observed, in one form, whose hash is signed and journalled."""

from __future__ import annotations

from typing import Any

from instruments.inventory.models import CustodyEvent
from instruments.inventory.models.photos import CustodyPhoto
from instruments.measuring.models import Condition, Point, Reading, Run, Session
from instruments.measuring.models.photos import Photo
from instruments.measuring.models.rooms import SoakNote
from labsys.journal.door import canonical
from labsys.metrology.units import Quantity, Unit

FORMAT = 1


def record_of(session: Session) -> str:
    """Write everything observed in a session as canonical text; the same rows give the same text for ever.

    What came to this program later (photos, soak, a sitting, the log behind a condition, direction and member of a
    point) has a key only where there is any, so that older sessions keep their text.
    """
    return canonical(
        {
            **_photos(session),
            **_soak(session),
            **_sitting(session),
            "format": FORMAT,
            "session": session.pk,
            "gauge": {"id": session.gauge_id, "tag": session.gauge.tag.text, "serial": session.gauge.serial},
            "revision": {"id": session.revision_id, "sha256": session.revision.content_sha256},
            "basis": session.basis,
            "received_at": session.received_at,
            "opened_at": session.opened_at,
            "opened_by": session.opened_by_id,
            "runs": [_run(run) for run in session.runs.order_by("opened_at", "pk")],
            "adjustments": [
                {name: getattr(row, name) for name in ("what", "parts", "seal", "firmware", "by_id", "at")}
                for row in session.adjustments.order_by("pk")
            ],
            "deviations": [
                {
                    name: getattr(row, name)
                    for name in ("rule", "reason", "owner_consent", "accepted_by_id", "at")
                }
                for row in session.deviations.order_by("pk")
            ],
        }
    )


def _photos(session: Session) -> dict[str, Any]:
    """Name each photo by the hash of its file; the file lies in the evidence beside this text.

    Of those taken at receipt, the ones that were there when the session was opened.
    """
    received = CustodyPhoto.objects.filter(
        event__gauge=session.gauge_id,
        event__kind=CustodyEvent.Kind.RECEIVED,
        event__at=session.received_at,
        at__lte=session.opened_at,
    ).order_by("pk")
    came = [{"sha256": row.sha256, "at": row.at, "by": row.by_id} for row in received]
    rows = Photo.objects.filter(run__session=session).select_related("run").order_by("pk")
    told = [
        {
            "stage": row.run.stage,
            "attempt": row.run.attempt,
            "look": row.look,
            "sha256": row.sha256,
            "note": row.note,
            "at": row.at,
            "by": row.by_id,
        }
        for row in rows
    ]
    return {**({"photos": told} if told else {}), **({"received_photos": came} if came else {})}


def _soak(session: Session) -> dict[str, Any]:
    rows = SoakNote.objects.filter(session=session).order_by("pk")
    told = [{name: getattr(row, name) for name in ("kind", "since", "reason", "at", "by_id")} for row in rows]
    return {"soak": told} if told else {}


def _sitting(session: Session) -> dict[str, Any]:
    """Name the sitting in which the session was measured in turn with others; they don't stand in this record."""
    if session.sitting is None:
        return {}
    return {"sitting": {"id": session.sitting.pk, "opened_at": session.sitting.opened_at}}


def _log(row: Condition) -> dict[str, Any]:
    """Give the stretch of log that a condition is the mean of."""
    span = getattr(row, "span", None)
    if span is None:
        return {}
    return {
        "log": {
            "start": span.start,
            "end": span.end,
            "readings": span.reading_count,
            "temperature_c": [span.temperature_low_c, span.temperature_high_c],
            "humidity_percent": [span.humidity_low_percent, span.humidity_high_percent],
            "gaps": span.gap_count,
        }
    }


def _run(run: Run) -> dict[str, Any]:
    return {
        "stage": run.stage,
        "attempt": run.attempt,
        "opened_at": run.opened_at,
        "standards": [
            {"standard": row.standard_id, "calibration": row.calibration_id, "picked_at": row.picked_at}
            for row in run.standards.order_by("pk")
        ],
        "conditions": [
            {
                "temperature_c": row.temperature_c,
                "standard_temperature_c": row.standard_temperature_c,
                "humidity_percent": row.humidity_percent,
                "sensor": row.sensor_id,
                "at": row.at,
                "by": row.by_id,
                **_log(row),
            }
            for row in run.conditions.select_related("span").order_by("pk")
        ],
        "zero": [
            {
                "kind": row.kind,
                "raw": row.raw,
                "unit": row.unit,
                _base(row.unit): row.value_mm,
                "at": row.at,
                "by": row.by_id,
            }
            for row in run.zero_checks.order_by("pk")
        ],
        "looks": [
            {"code": row.code, "answer": row.answer, "note": row.note, "at": row.at, "by": row.by_id}
            for row in run.checks.order_by("pk")
        ],
        "points": [_point(point) for point in _points(run)],
    }


def _points(run: Run) -> list[Point]:
    points = run.points.order_by("sequence", "attempt").select_related("void", "member")
    return list(points.prefetch_related("references", "readings__strike", "readings__arrival"))


def _point(point: Point) -> dict[str, Any]:
    return {
        "sequence": point.sequence,
        "attempt": point.attempt,
        "function": point.function,
        "place": point.place,
        **({"direction": point.direction} if point.direction else {}),
        **({"member": {"id": point.member.pk, "label": point.member.label}} if point.member else {}),
        "nominal_mm": point.nominal_mm,
        "void": point.void.reason if hasattr(point, "void") else None,
        "references": [
            {
                "value": row.element_value_id,
                "nominal_mm": row.nominal_mm,
                "deviation_mm": row.deviation_mm,
                "count": row.count,
                "sensitivity": row.sensitivity,
            }
            for row in sorted(point.references.all(), key=lambda row: row.pk)
        ],
        "readings": [_reading(row) for row in sorted(point.readings.all(), key=lambda row: row.pk)],
    }


def _base(unit: str) -> str:
    """Name the unit a reading is kept in: mm, or arc seconds where it was read in a unit of angle."""
    return "arcsec" if unit and Unit(unit).quantity is Quantity.ANGLE else "mm"


def _reading(row: Reading) -> dict[str, Any]:
    strike = row.strike if hasattr(row, "strike") else None
    return {
        "client_id": row.arrival.client_id,
        "raw": row.raw,
        "unit": row.unit,
        _base(row.unit): row.value_mm,
        "measured_at": row.measured_at,
        "received_at": row.received_at,
        "read_by": row.read_by_id,
        "source": row.source,
        "struck": None if strike is None else {"reason": strike.reason, "by": strike.by_id, "at": strike.at},
    }
