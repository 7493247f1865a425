"""Uncertainties of stored results as the procedure has them rounded: the digits that the certificate prints."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from instruments.inventory.models import GaugeModel
from instruments.measuring.models import Result, Session
from instruments.measuring.showing import words
from instruments.measuring.showing.corridors import U_NAMES
from instruments.measuring.showing.values import fit_words, written
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of
from labsys.metrology.reporting import Rounding, round_uncertainty
from labsys.metrology.units import Unit, from_mm
from labsys.metrology.views import View
from labsys.pages import figures


@dataclass(frozen=True)
class Manner:
    """How the results of one session are written: for which gauge, with how many digits of U, rounded how."""

    model: GaugeModel
    content: Content
    digits: Literal[1, 2]
    rounding: Rounding

    @classmethod
    def of(cls, session: Session) -> Manner:
        """Read it from the session's own revision."""
        content = content_of(session.revision)
        digits: Literal[1, 2] = 1 if content.digits == 1 else 2
        return cls(session.gauge.model, content, digits, Rounding(content.rounding.replace("-", "_")))

    def spread(self, U_mm: Decimal) -> str:
        """Write U in the gauge's unit; the length of closed faces is exact, so its test value has none."""
        unit = self.model.unit
        if U_mm == 0:
            return figures.with_unit("0", unit)
        U = round_uncertainty(from_mm(U_mm, Unit(unit)), digits=self.digits, rounding=self.rounding)
        return figures.with_unit(f"{U:f}", unit)

    def value(self, result: Result) -> str:
        """Write what was found with its unit: an error with its sign, whether it fits, a size of some form without."""
        if result.kind == Result.Kind.ATTRIBUTE:
            return fit_words(result.value_mm)
        point = next(iter(result.points.all()), None)
        places = words.error_places(self.model, self.content, "" if point is None else point.function)
        value = from_mm(result.value_mm, Unit(self.model.unit))
        return figures.with_unit(written(value, result.kind, places), self.model.unit)

    def spreads(self, result: Result, named: View) -> tuple[str, ...]:
        """Name the U of the certificate, and the one that the rule decides by where that is another."""
        if result.U_mm is None or result.U_test_mm is None:
            return ()
        calibration = f"{U_NAMES[View.CALIBRATION]} {self.spread(result.U_mm)}"
        if named is View.CALIBRATION:
            return (calibration,)
        return calibration, f"decided by {U_NAMES[named]} {self.spread(result.U_test_mm)}"
