"""A draft tried on past sessions before it is approved: every reading judged again as the draft would judge it.

The way it is done is ISO/IEC 17025:2017, 7.2.2: a changed method is validated before it is used, and what was found
is kept. Nothing is stored in the sessions that are judged again; what is kept stands in procedures.
"""

from __future__ import annotations

from instruments.measuring.dry_run.past import past_sessions
from instruments.measuring.dry_run.record import AGREED, OWN, Line, SessionTried, Tried, read_back
from instruments.measuring.dry_run.trying import try_on_past

__all__ = [
    "AGREED",
    "OWN",
    "Line",
    "SessionTried",
    "Tried",
    "past_sessions",
    "read_back",
    "try_on_past",
]
