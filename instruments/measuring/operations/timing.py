"""When something at the bench can have happened: after the gauge came, before now, within the stage it belongs to."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import ClassVar

from instruments.measuring.models import Run
from labsys.errors import LabError
from labsys.laboratory.queries import local_time

CLOCK_TOLERANCE = timedelta(seconds=90)
"""How far the clock of a device may be off before what it says is doubted (common practice, no source)."""


class MeasuredInTheFuture(LabError, ValueError):
    """A measurement time later than now (refusal 13)."""

    code: ClassVar[str] = "measured-in-the-future"
    sentence: ClassVar[str] = (
        "The reading says it was taken at {measured}, later than now ({now}). Check the clock of the device."
    )


class MeasuredBeforeReceipt(LabError, ValueError):
    """A measurement time earlier than the receipt of the gauge (refusal 13)."""

    code: ClassVar[str] = "measured-before-receipt"
    sentence: ClassVar[str] = (
        "The reading says it was taken at {measured}, before the gauge was received ({received}). "
        "Check the clock of the device."
    )


class MeasuredBeforeAdjustment(LabError, ValueError):
    """A value for the results as left that was taken before the adjustment they follow."""

    code: ClassVar[str] = "measured-before-adjustment"
    sentence: ClassVar[str] = (
        "The reading says it was taken at {measured}, before the adjustment at {began}, so it does not tell how "
        "the gauge was left. Take it again."
    )


class StageEnded(LabError, ValueError):
    """A value for the results as found that was taken after the gauge was adjusted."""

    code: ClassVar[str] = "stage-ended"
    sentence: ClassVar[str] = (
        "The gauge was adjusted at {ended}, and this is dated {measured}: it can't belong to what was found before. "
        "Take it in the stage under way."
    )


def refuse_impossible_time(run: Run, measured_at: datetime, now: datetime) -> None:
    """Refuse a time later than now, before the gauge came, or outside the stage that ``run`` is.

    Raises MeasuredInTheFuture, MeasuredBeforeReceipt, MeasuredBeforeAdjustment, StageEnded.
    """
    received_at = run.session.received_at
    if measured_at > now + CLOCK_TOLERANCE:
        raise MeasuredInTheFuture(measured=local_time(measured_at), now=local_time(now))
    if measured_at < received_at:
        raise MeasuredBeforeReceipt(measured=local_time(measured_at), received=local_time(received_at))
    if run.stage == Run.Stage.AS_LEFT and measured_at < run.opened_at - CLOCK_TOLERANCE:
        raise MeasuredBeforeAdjustment(measured=local_time(measured_at), began=local_time(run.opened_at))
    next_run = Run.objects.filter(session=run.session_id, pk__gt=run.pk).order_by("pk").first()
    if next_run is not None and measured_at > next_run.opened_at:
        raise StageEnded(ended=local_time(next_run.opened_at), measured=local_time(measured_at))
