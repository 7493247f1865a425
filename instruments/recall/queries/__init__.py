"""Reads of recall: standing, due dates, call-ins. The modules beside this one hold them by what they are about."""

from instruments.recall.queries.call_ins import (
    CallInPlan,
    Skipped,
    call_in_plan,
    not_presented,
    open_call_ins,
)
from instruments.recall.queries.due import due_on, interval_in_force, last_event
from instruments.recall.queries.panel import panel
from instruments.recall.queries.standing import (
    PASSING,
    RECALL_RESTS,
    Derived,
    Rank,
    Standing,
    derive,
    read,
    standing,
    with_standing,
)
from instruments.recall.queries.waiting import Waiting, register_waiting, waiting
from instruments.recall.queries.workload import Week, late, weeks

__all__ = [
    "PASSING",
    "RECALL_RESTS",
    "CallInPlan",
    "Derived",
    "Rank",
    "Skipped",
    "Standing",
    "Waiting",
    "Week",
    "call_in_plan",
    "late",
    "panel",
    "register_waiting",
    "waiting",
    "weeks",
    "derive",
    "due_on",
    "interval_in_force",
    "last_event",
    "not_presented",
    "open_call_ins",
    "read",
    "standing",
    "with_standing",
]
