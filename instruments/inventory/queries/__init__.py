"""Reads of the inventory: lists, states, limits and whereabouts, each as of an instant. Writes nothing."""

from instruments.inventory.queries.custody import received_at, whereabouts
from instruments.inventory.queries.description import describe, description_at
from instruments.inventory.queries.gauges import by_tag, gauges, in_state, with_state
from instruments.inventory.queries.limits import LimitsInForce, limits_at, limits_for
from instruments.inventory.queries.pairs import MasterStep, all_set_with, masters_of, open_pairs, set_with
from instruments.inventory.queries.panel import panel
from instruments.inventory.queries.states import state_of

__all__ = [
    "LimitsInForce",
    "MasterStep",
    "all_set_with",
    "by_tag",
    "describe",
    "description_at",
    "gauges",
    "in_state",
    "limits_at",
    "limits_for",
    "masters_of",
    "open_pairs",
    "panel",
    "received_at",
    "set_with",
    "state_of",
    "whereabouts",
    "with_state",
]
