"""Tables of measuring. What was observed is append-only; what is decided about it stands in rows of its own."""

from __future__ import annotations

from instruments.measuring.models.grants import BenchGrant
from instruments.measuring.models.judgements import (
    Deviation,
    Result,
    Review,
    Submission,
)
from instruments.measuring.models.observations import (
    Arrival,
    Check,
    Condition,
    Reading,
    SetAside,
    Strike,
    ZeroCheck,
)
from instruments.measuring.models.sessions import (
    Adjustment,
    Point,
    PointReference,
    PointVoid,
    Run,
    RunStandard,
    Session,
)
from instruments.measuring.models.sittings import Sitting

__all__ = [
    "Adjustment",
    "Arrival",
    "BenchGrant",
    "Check",
    "Condition",
    "Deviation",
    "Point",
    "PointReference",
    "PointVoid",
    "Reading",
    "Result",
    "Review",
    "Run",
    "RunStandard",
    "Session",
    "SetAside",
    "Sitting",
    "Strike",
    "Submission",
    "ZeroCheck",
]
