"""The canonical text of a session: everything observed, in one form, whose hash is signed and journalled."""

from __future__ import annotations

from typing import Any

from instruments.measuring.models import Point, Reading, Run, Session
from labsys.journal.door import canonical

FORMAT = 1


def record_of(session: Session) -> str:
    """Write everything observed in a session as canonical text; the same rows give the same text for ever."""
    return canonical(
        {
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
            }
            for row in run.conditions.order_by("pk")
        ],
        "zero": [
            {
                "kind": row.kind,
                "raw": row.raw,
                "unit": row.unit,
                "mm": row.value_mm,
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
    points = run.points.order_by("sequence", "attempt").select_related("void")
    return list(points.prefetch_related("references", "readings__strike", "readings__arrival"))


def _point(point: Point) -> dict[str, Any]:
    return {
        "sequence": point.sequence,
        "attempt": point.attempt,
        "function": point.function,
        "place": point.place,
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


def _reading(row: Reading) -> dict[str, Any]:
    strike = row.strike if hasattr(row, "strike") else None
    return {
        "client_id": row.arrival.client_id,
        "raw": row.raw,
        "unit": row.unit,
        "mm": row.value_mm,
        "measured_at": row.measured_at,
        "received_at": row.received_at,
        "read_by": row.read_by_id,
        "source": row.source,
        "struck": None if strike is None else {"reason": strike.reason, "by": strike.by_id, "at": strike.at},
    }
