"""Numbers without gaps or repeats: a series row that is locked while one is taken, in the act that uses it.

After a restore the database may know fewer numbers than were issued; each series then gives none until a person has
confirmed the highest number that ever left the laboratory.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.certificates.access import CONFIRM_NUMBERS
from instruments.certificates.models import Certificate, NumberSeries
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require

CALIBRATION, PREFIX, DIGITS = "calibration", "CAL-", 5


class SeriesNotConfirmed(LabError):
    """After a restore nobody has said yet which number was the last."""

    code: ClassVar[str] = "series-not-confirmed"
    sentence: ClassVar[str] = (
        "No number can be given: the records were restored, and the highest number ever issued is not confirmed yet "
        "(the records know {last}). The manager confirms it under certificate numbers."
    )


class HighestTooLow(LabError, ValueError):
    """A number on record is higher than the one given as the highest."""

    code: ClassVar[str] = "highest-too-low"
    sentence: ClassVar[str] = (
        "Expected {known} or more, found {found}: number {known} is on record. "
        "Look at the last certificate that left the laboratory and give its number."
    )
    field: ClassVar[str | None] = "highest"


def take_number() -> str:
    """Take the next number of the series, which stays locked until the transaction ends; raises SeriesNotConfirmed."""
    series = locked_series()
    if not series.confirmed:
        raise SeriesNotConfirmed(last=_written(series, series.last))
    series.last += 1
    series.save(update_fields=["last"])
    return _written(series, series.last)


def locked_series() -> NumberSeries:
    """Lock the series of calibration certificates; the first certificate of all makes it.

    Where certificates exist and the series doesn't, it was lost and begins unconfirmed.
    """
    NumberSeries.objects.get_or_create(
        code=CALIBRATION,
        defaults={"prefix": PREFIX, "last": 0, "confirmed": not Certificate.objects.exists()},
    )
    return NumberSeries.objects.select_for_update().get(code=CALIBRATION)


def _written(series: NumberSeries, number: int) -> str:
    return f"{series.prefix}{number:0{DIGITS}d}"


@act("certificates.lock-series")
def lock_series(*, reason: str, by: Acting, now: datetime) -> int:
    """Let no series give a number until it is confirmed; what a restore does last. Gives how many were locked."""
    require(by, CONFIRM_NUMBERS)
    locked = NumberSeries.objects.update(confirmed=False)
    note("certificate-numbers", reason=reason, after={"locked": locked})
    return locked


@act("certificates.confirm-series")
def confirm_series(
    *, series: NumberSeries, highest: int, reason: str, by: Acting, now: datetime
) -> NumberSeries:
    """Confirm that ``highest`` is the highest number ever issued: the next one follows it. Raises HighestTooLow.

    Numbers between the last on record and ``highest`` left the laboratory without a record here; the journal says so.
    """
    require(by, CONFIRM_NUMBERS)
    row = NumberSeries.objects.select_for_update().get(pk=series.pk)
    known = max(row.last, _highest_on_record(row))
    if highest < known:
        raise HighestTooLow(known=_written(row, known), found=_written(row, highest))
    before = {"last": row.last, "confirmed": row.confirmed}
    row.last, row.confirmed = highest, True
    row.save(update_fields=["last", "confirmed"])
    note(
        "certificate-numbers",
        reason=reason,
        before=before,
        after={"series": row.code, "last": highest, "without_record": highest - known},
    )
    return row


def _highest_on_record(series: NumberSeries) -> int:
    """Find the highest number that a certificate carries; the table may know more than the series."""
    numbers = Certificate.objects.filter(number__startswith=series.prefix).values_list("number", flat=True)
    written = (number.removeprefix(series.prefix) for number in numbers.iterator(chunk_size=2000))
    return max((int(digits) for digits in written if digits.isdigit()), default=0)
