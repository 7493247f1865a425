"""The two views of uncertainty that are always both computed and stored.

Lives here: their names, the pair and its stored form. May not live here: how they are computed (evaluation.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from labsys.metrology.budget import Budget, BudgetUnreadable


class View(StrEnum):
    """Which uncertainty: of the calibration (with the gauge's own reading) or of the test value (ISO 14253-5)."""

    CALIBRATION = "calibration"
    TEST_VALUE = "test_value"


VIEW_WORDS = {View.CALIBRATION: "calibration uncertainty", View.TEST_VALUE: "test value uncertainty"}


@dataclass(frozen=True, slots=True)
class Views:
    """Both budgets of one result."""

    calibration: Budget
    test_value: Budget

    def of(self, view: View) -> Budget:
        """Give the budget that ``view`` names."""
        return self.calibration if view is View.CALIBRATION else self.test_value

    def to_json(self) -> dict[str, Any]:
        """Give plain dicts, lists and strings."""
        return {view.value: self.of(view).to_json() for view in View}

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Views:
        """Read what ``to_json`` gave; raises BudgetUnreadable naming the place."""
        budgets = {}
        for view in View:
            if view.value not in stored:
                raise BudgetUnreadable(place=view.value)
            budgets[view.value] = Budget.from_json(stored[view.value])
        return cls(**budgets)
