"""Reads of traceability: the chain upward with every link checked, who relies on what, what waits for review."""

from __future__ import annotations

from standards.traceability.queries.chain import (
    ChainBroken,
    Node,
    chain_of,
    faults_of,
    require_unbroken,
)
from standards.traceability.queries.findings import (
    Observation,
    ValueRow,
    observations,
    review_faults,
    value_rows,
)
from standards.traceability.queries.lists import (
    accreditations_at,
    certificates,
    issuers,
    lapsing_accreditations,
    relied_on_by,
    waiting_for_review,
)
from standards.traceability.queries.shapes import Fault, LinkCheck, Use

__all__ = [
    "ChainBroken",
    "Fault",
    "LinkCheck",
    "Node",
    "Observation",
    "Use",
    "ValueRow",
    "accreditations_at",
    "certificates",
    "chain_of",
    "faults_of",
    "issuers",
    "lapsing_accreditations",
    "observations",
    "relied_on_by",
    "require_unbroken",
    "review_faults",
    "value_rows",
    "waiting_for_review",
]
