"""Reads of the bench: what a session has and lacks, what a submission came to, what waits for whom."""

from __future__ import annotations

from instruments.measuring.queries.bench import Bench, BenchPoint, bench_of, current_run, unanswered
from instruments.measuring.queries.outcomes import Outcome, calibrated_on, outcome_of, results_of
from instruments.measuring.queries.sessions import UNDER_WAY, panel, sessions, under_way, waiting_for_review

__all__ = [
    "UNDER_WAY",
    "Bench",
    "BenchPoint",
    "Outcome",
    "bench_of",
    "calibrated_on",
    "current_run",
    "outcome_of",
    "panel",
    "results_of",
    "sessions",
    "unanswered",
    "under_way",
    "waiting_for_review",
]
