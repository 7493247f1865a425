"""The daily walk of the journal's chain, as a run that succeeds or fails in everybody's sight."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import DatabaseError

from labsys.jobs.models import JobRun
from labsys.jobs.runs import recorded
from labsys.journal.door import Actor
from labsys.journal.operations import ChainBroken, record_verification
from labsys.journal.queries import ChainReport, last_verification, verify_chain

log = logging.getLogger(__name__)

NAME = "verify-journal"
ONCE_IN = timedelta(hours=23)
"""Asked each hour, as a call may be lost; a day's walk that was done early in the hour is due again the next day."""

WALKER = Actor("job:verify-journal", "The daily check", "job")


def is_due(now: datetime) -> bool:
    """Say whether nobody, job or person, has walked the chain for a day."""
    last = last_verification()
    return last is None or last.at <= now - ONCE_IN


def verify(*, clock: Callable[[], datetime]) -> JobRun:
    """Walk the chain and record what was found; raises ChainBroken, so that the run counts as failed.

    The number and hash of the last entry go into the log too, which is kept apart from the database.
    """
    with recorded(NAME, clock=clock) as run:
        report = verify_chain()
        run.total = run.done = report.entries
        run.detail = f"{report.entries}:{report.head_hash}"
        _say(report)
        _record(report, clock())
        if report.fault:
            raise ChainBroken(fault=report.fault)
    return run


def _say(report: ChainReport) -> None:
    if report.fault:
        log.error("the journal does not hold together: %s", report.fault)
    else:
        log.info("the journal holds together: %s:%s", report.entries, report.head_hash)


def _record(report: ChainReport, now: datetime) -> None:
    try:
        record_verification(report=report, by=WALKER, now=now)
    except DatabaseError as problem:
        # A chain without its head takes no entry any more; what is wrong with it must be said all the same.
        if not report.fault:
            raise
        log.error("what was found could not be written into the journal: %s", problem)
