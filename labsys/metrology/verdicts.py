"""The six verdicts, their words and their order of severity.

Lives here: Verdict and rolling verdicts up. May not live here: how a verdict comes about (decision.py).
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from labsys.errors import LabError


class Verdict(StrEnum):
    """What a rule says about a result, a function, a stage or a gauge; listed from the mildest to the most severe."""

    IN_TOLERANCE = "in_tolerance"
    CONDITIONAL_INSIDE = "conditional_inside"
    NOT_DECIDED = "not_decided"
    NOT_ACCEPTED = "not_accepted"
    CONDITIONAL_OUTSIDE = "conditional_outside"
    OUT_OF_TOLERANCE = "out_of_tolerance"

    @property
    def words(self) -> str:
        """Give the verdict as it is printed: in tolerance, not accepted, …"""
        return self.value.replace("_", " ")


_SEVERITY = {verdict: rank for rank, verdict in enumerate(Verdict)}


class NothingToRollUp(LabError, ValueError):
    """No verdicts to take the most severe of: what was not measured has no verdict."""

    code = "nothing-to-roll-up"
    sentence = "Expected at least one verdict, found none. Measure the function, or restrict the gauge to the others."


def roll_up(verdicts: Iterable[Verdict]) -> Verdict:
    """Give the most severe of ``verdicts``; raises NothingToRollUp for none."""
    found = list(verdicts)
    if not found:
        raise NothingToRollUp()
    return max(found, key=_SEVERITY.__getitem__)
