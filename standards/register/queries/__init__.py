"""Reads of the register: states and values as of any instant, whether a standard may be used, what falls due."""

from __future__ import annotations

from standards.register.queries.elements import (
    Available,
    ElementAt,
    StandardOutOfRange,
    all_available,
    available,
    elements_at,
    require_value,
    value_in_force,
    values_in_force,
)
from standards.register.queries.states import (
    Due,
    due,
    end_of_day,
    lapsing,
    listed,
    overdue,
    standards,
    state_of,
    states_during,
)
from standards.register.queries.usability import (
    StandardNotReviewed,
    StandardOutOfService,
    StandardOverdue,
    Usability,
    calibration_in_force,
    require_usable,
    usability,
)

__all__ = [
    "Available",
    "Due",
    "ElementAt",
    "StandardNotReviewed",
    "StandardOutOfRange",
    "StandardOutOfService",
    "StandardOverdue",
    "Usability",
    "all_available",
    "available",
    "calibration_in_force",
    "due",
    "elements_at",
    "end_of_day",
    "lapsing",
    "listed",
    "overdue",
    "require_usable",
    "require_value",
    "standards",
    "state_of",
    "states_during",
    "usability",
    "value_in_force",
    "values_in_force",
]
