"""Acts on the service state of a gauge."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.models import Gauge, GaugeState
from instruments.inventory.operations.reasons import given
from instruments.inventory.queries.states import state_of
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require

State = GaugeState.State

# Where a state may lead. A gauge is new once; one that was lost or scrapped by mistake comes back out of service first,
# because nobody knows what happened to it meanwhile.
LEADS_TO: dict[str, tuple[State, ...]] = {
    State.LOST: (State.OUT_OF_SERVICE, State.SCRAPPED),
    State.SCRAPPED: (State.OUT_OF_SERVICE,),
}
ANYWHERE = tuple(state for state in State if state != State.NEW)


class UnknownState(LabError, ValueError):
    """A word that is no service state."""

    code: ClassVar[str] = "unknown-state"
    sentence: ClassVar[str] = "“{state}” is no service state. Known are: {known}."
    field: ClassVar[str | None] = "state"


class StateDoesNotFollow(LabError, ValueError):
    """This state can't follow the one the gauge is in."""

    code: ClassVar[str] = "state-does-not-follow"
    sentence: ClassVar[str] = "{tag} is “{found}”. From there it can become: {possible}; not “{wanted}”."
    field: ClassVar[str | None] = "state"


def possible(state: str) -> tuple[State, ...]:
    """List the states that may follow one."""
    return tuple(one for one in LEADS_TO.get(state, ANYWHERE) if one != state)


@act("inventory.change-state")
def change_state(*, gauge: Gauge, state: str, reason: str, by: Acting, now: datetime) -> GaugeState:
    """Put a gauge into another service state from now on, with a reason.

    Raises UnknownState, StateDoesNotFollow, ReasonMissing. Whether a gauge may return to service is asked above,
    where calibrations are known.
    """
    require(by, MANAGE_GAUGES)
    subject = f"gauge:{gauge.pk}"
    if state not in State.values:
        raise UnknownState(state=state, known=", ".join(State.values), subject=subject)
    Gauge.objects.select_for_update().get(pk=gauge.pk)  # two changes at once are two changes in a row
    found = state_of(gauge, now)
    if state not in possible(found):
        raise StateDoesNotFollow(
            tag=gauge.tag.text,
            found=State(found).label if found else "not registered yet",
            wanted=State(state).label,
            possible=", ".join(one.label for one in possible(found)),
            subject=subject,
        )
    why = given(reason, what="the state of a gauge", subject=subject)
    row = GaugeState.objects.create(gauge=gauge, state=state, reason=why, valid_from=now, recorded_at=now)
    note(subject, reason=why, before={"state": found}, after={"state": str(state)})
    return row
