"""Planning the points of a session: which lengths, where on the faces, with which standards, and why each.

The front door: ``propose`` plans, ``open_rules`` says which rules a plan still breaks. Pure given what is available:
nothing here reads a table or a clock.
"""

from __future__ import annotations

from instruments.procedures.planner.aims import Piece
from instruments.procedures.planner.planned import PlannedPoint, Proposal
from instruments.procedures.planner.proposing import propose
from instruments.procedures.planner.rules import coverage_of, open_rules
from labsys.metrology.plan import OpenRule, PlanPoint

__all__ = [
    "OpenRule",
    "Piece",
    "PlanPoint",
    "PlannedPoint",
    "Proposal",
    "coverage_of",
    "open_rules",
    "propose",
]
