"""Small budgets for tests that need an uncertainty and not its story."""

from __future__ import annotations

import math

from labsys.metrology.budget import Budget, combine
from labsys.metrology.components import Component, Distribution
from labsys.metrology.views import Views


def normal_budget(U_mm: float, *, k: float = 2.0, nu: float = math.inf) -> Budget:
    """Make a budget of one normal component whose k·u is ``U_mm``, with this very k."""
    budget = combine([Component("given", U_mm, Distribution.NORMAL, divisor=k, nu=nu)])
    return Budget(**{**{name: getattr(budget, name) for name in budget.__slots__}, "k": k, "U_mm": U_mm})


def both_views(U_mm: float, *, test_value_U_mm: float | None = None) -> Views:
    """Make a pair of views, the same twice unless told otherwise."""
    return Views(normal_budget(U_mm), normal_budget(U_mm if test_value_U_mm is None else test_value_U_mm))
