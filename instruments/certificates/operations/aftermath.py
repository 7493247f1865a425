"""What a signed certificate means for its gauge: the calibration event, a restriction, where it is now."""

from __future__ import annotations

from datetime import datetime

from instruments.certificates.document.words import function_word, listing
from instruments.inventory.models import CustodyEvent
from instruments.inventory.operations import record_custody
from instruments.measuring.models import Submission
from instruments.measuring.queries import Outcome
from instruments.recall.models import CalibrationEvent, Restriction
from instruments.recall.operations import CalibrationOutcome, RestrictionData, record_calibration, restrict
from instruments.recall.queries import PASSING
from labsys.accounts.models import Person

NOT_MEASURED = "Only for {measured}: {missing} not calibrated."


def record_event(submission: Submission, outcome: Outcome, by: Person, now: datetime) -> CalibrationEvent:
    """Record the calibration, from which due date and standing follow."""
    session = submission.session
    return record_calibration(
        gauge=session.gauge,
        source=f"session:{session.pk}",
        calibrated_on=outcome.calibrated_on,
        outcome=CalibrationOutcome(
            as_found=str(outcome.as_found or ""),
            as_found_within_limits=outcome.as_found_within_limits,
            as_left=str(outcome.as_left),
            adjusted=outcome.adjusted,
        ),
        by=by,
        now=now,
    )


def restrict_unmeasured(submission: Submission, outcome: Outcome, by: Person, now: datetime) -> None:
    """Restrict the gauge to the functions that have a verdict: what was not measured has none.

    A restriction in force keeps its own words and loses the functions that were not measured.
    """
    gauge = submission.session.gauge
    if not outcome.unmeasured or str(outcome.as_left) not in PASSING:
        return
    measured = [name for name in gauge.functions if name not in outcome.unmeasured]
    before: Restriction | None = Restriction.objects.filter(gauge=gauge).in_force(now)
    said = ""
    if before is not None and not before.lifted:
        measured = [name for name in measured if not before.functions or name in before.functions]
        said = f"{before.text.rstrip('.')}. "
    data = RestrictionData(
        text=(said + _sentence(measured, outcome.unmeasured))[:300],
        functions=tuple(measured),
        owner_consent=_consent(submission),
    )
    restrict(gauge=gauge, data=data, reason="Functions without a verdict.", by=by, now=now)


def _sentence(measured: list[str], missing: tuple[str, ...]) -> str:
    return NOT_MEASURED.format(
        measured=listing(function_word(name) for name in measured) or "nothing",
        missing=listing(function_word(name) for name in missing),
    )


def _consent(submission: Submission) -> str:
    given = submission.session.deviations.exclude(owner_consent="").values_list("owner_consent", flat=True)
    return "; ".join(dict.fromkeys(given))[:200]


def hand_back(submission: Submission, event: CalibrationEvent, by: Person, now: datetime) -> None:
    """Note where the gauge stands: released to go back, or waiting for its owner's decision where it didn't pass."""
    session = submission.session
    passed = event.as_left in PASSING
    record_custody(
        gauge=session.gauge,
        kind=CustodyEvent.Kind.RELEASED if passed else CustodyEvent.Kind.WAITING,
        waits_for="" if passed else CustodyEvent.WaitsFor.OWNER,
        place=session.place,
        at=now,
        by=by,
        now=now,
    )
