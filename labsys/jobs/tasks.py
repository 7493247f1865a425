"""The clock's part: each minute what the ledger holds is sent, once a day the journal's chain is walked."""

from __future__ import annotations

import os
import socket
import uuid

from celery import shared_task
from django.utils import timezone

from labsys.jobs.runs import recorded
from labsys.jobs.sending import send_ready
from labsys.jobs.verifying import is_due, verify


@shared_task(name="labsys.send-notices")
def send_notices() -> None:
    """Send what is ready; a lost call costs a minute, a second one at the same time nothing."""
    sender = f"{socket.gethostname()[:24]}:{os.getpid()}:{uuid.uuid4().hex[:12]}"
    with recorded("send-notices", clock=timezone.now) as run:
        done = send_ready(clock=timezone.now, sender=sender)
        run.done = done.sent
        run.detail = f"put back {done.put_back}, refused {done.refused}, doubtful {done.doubtful}"


@shared_task(name="labsys.verify-journal")
def verify_journal() -> None:
    """Walk the journal's chain when nobody did for a day."""
    if is_due(timezone.now()):
        verify(clock=timezone.now)
