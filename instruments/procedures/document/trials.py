"""The trial of the default rule as rows of a table for people."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from instruments.procedures.content import FUNCTIONS
from instruments.procedures.trial import Trial
from labsys.metrology.limits import Limits
from labsys.metrology.units import Quantity, Unit, from_mm
from labsys.pages import figures

_UNKNOWN = "–"


@dataclass(frozen=True, slots=True)
class TrialRow:
    """One line of the table; ``why`` says why nothing is accepted, empty where something is."""

    model: str
    function: str
    length: str
    limits: str
    U: str
    U_test: str
    acceptance: str
    why: str


def trial_rows(trials: Iterable[Trial]) -> list[TrialRow]:
    """Write the trials down, lengths in the unit of the model, everything else in mm, for angles in arc seconds."""
    return [
        TrialRow(
            model=str(trial.model),
            function=FUNCTIONS.get(trial.function, trial.function),
            length=length_words(trial.length_mm, Unit(trial.model.unit)),
            limits=_between(trial.limits, trial.model.unit),
            U=uncertainty_words(trial.U_mm, trial.model.unit),
            U_test=uncertainty_words(trial.U_test_mm, trial.model.unit),
            acceptance=_UNKNOWN if trial.acceptance is None else _between(trial.acceptance, trial.model.unit),
            why=trial.why,
        )
        for trial in trials
    ]


def length_words(length_mm: Decimal, unit: Unit) -> str:
    """Write a length in ``unit``; inches to four places, as nominal sizes are."""
    if unit.quantity is Quantity.ANGLE:
        return figures.size(length_mm, unit)
    places = None if unit is Unit.MM else 4
    return figures.with_unit(figures.plain(from_mm(length_mm, unit, decimals=places)), unit.value)


def uncertainty_words(value_mm: float | None, unit: str) -> str:
    """Write an uncertainty in mm to a tenth of a micrometre, that of an angle to a tenth of an arc second; a dash for
    none.
    """
    if value_mm is not None and Unit(unit).quantity is Quantity.ANGLE:
        return figures.with_unit(f"{value_mm:.1f}", Unit.ARCSEC)
    return _UNKNOWN if value_mm is None else figures.with_unit(f"{value_mm:.4f}", "mm")


def _between(limits: Limits, unit: str) -> str:
    base = Unit(unit).quantity.base
    lower, upper = limits.lower, limits.upper
    if lower is not None and upper is not None and lower == -upper:
        return figures.with_unit(f"±{figures.plain(_short(upper))}", base)
    words = [_UNKNOWN if side is None else figures.signed(_short(side)) for side in (lower, upper)]
    return figures.with_unit(" to ".join(words), base)


def _short(value: Decimal) -> Decimal:
    """Round to a hundredth of a micrometre, finer than any limit is given."""
    return value.quantize(Decimal("0.00001"))
