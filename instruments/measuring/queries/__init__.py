"""Reads of the bench: what a session has and lacks, what a submission came to, what waits for whom."""

from __future__ import annotations

from instruments.measuring.queries.bench import (
    Asking,
    Bench,
    BenchPoint,
    asking_for_deviations,
    bench_of,
    current_run,
    unanswered,
)
from instruments.measuring.queries.deposited import became, known_sessions, receipts
from instruments.measuring.queries.outcomes import Outcome, calibrated_on, outcome_of, results_of
from instruments.measuring.queries.received import (
    InHand,
    Progress,
    at_the_bench,
    in_hand,
    progress_of,
    soak_times,
)
from instruments.measuring.queries.sessions import (
    UNDER_WAY,
    panel,
    performers,
    performers_of,
    sessions,
    under_way,
    waiting_for_review,
)

__all__ = [
    "UNDER_WAY",
    "Asking",
    "Bench",
    "BenchPoint",
    "InHand",
    "Outcome",
    "Progress",
    "asking_for_deviations",
    "at_the_bench",
    "became",
    "bench_of",
    "calibrated_on",
    "current_run",
    "in_hand",
    "known_sessions",
    "outcome_of",
    "panel",
    "performers",
    "performers_of",
    "progress_of",
    "receipts",
    "results_of",
    "sessions",
    "soak_times",
    "unanswered",
    "under_way",
    "waiting_for_review",
]
