"""Kinds that come from reading the gauge: the reading itself and the zero that was set.

Lives here: what the gauge's own display and zero add. May not live here: the rules of the zero (zero.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from labsys.metrology.components import Component, Distribution
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs.base import CALIBRATION_ONLY, CommonSpec, Spec


@dataclass(frozen=True, kw_only=True)
class Reading(Spec):
    """The larger of the reading's half-width (rectangular) and the pooled repeatability (Type A); s = 0 counts
    as the half-width.
    """

    kind = "reading"
    usual_views = CALIBRATION_ONLY

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make the one component that is larger."""
        half_width, study = float(inputs.reading_half_width_mm), inputs.repeatability
        if study is None or float(study.s_mm) <= half_width / math.sqrt(3.0):
            return (Component(self.name, half_width, source=self._source("half of what can be told apart")),)
        nu, source = float(study.nu), self._source("pooled repeatability")
        return (Component(self.name, float(study.s_mm), Distribution.NORMAL, nu=nu, source=source),)

    def _source(self, taken: str) -> str:
        return f"{self.source}; {taken}" if self.source else taken


@dataclass(frozen=True, kw_only=True)
class Zero(CommonSpec):
    """The zero that was set: rectangular with the half-width the zero rules give; nothing where none was set."""

    kind = "zero"
    usual_views = CALIBRATION_ONLY

    def components(self, inputs: PointInputs) -> tuple[Component, ...]:
        """Make one component where a zero was set."""
        if inputs.zero_half_width_mm is None:
            return ()
        return (Component(self.name, float(inputs.zero_half_width_mm), source=self.source),)
