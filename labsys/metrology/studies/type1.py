"""Capability of a gauge from repeats on one reference: the type-1 study, Cg and Cgk.

Lives here: the indices and the shares of the tolerance. May not live here: appraisers and parts (crossed.py).
"""

from __future__ import annotations

from dataclasses import dataclass

from labsys.metrology.studies.bias import BiasStudy
from labsys.metrology.studies.variation import STUDY_WIDTH, Scale, expect

USUAL_SHARE = 0.2
"""Share of the tolerance that the gauge's spread is held against (common practice; 0.1 and 0.15 are met)."""


@dataclass(frozen=True, slots=True)
class Type1Study:
    """What a type-1 study found.

    Cg = share·T/(width·s) and Cgk = (share·T/2 − |bias|)/(width·s/2). ``percent_repeatability`` = 100·share/Cg and
    ``percent_with_bias`` = 100·share/Cgk (None where the bias alone uses up the share). ``percent_step`` is the
    display's step in percent of the tolerance, None where it wasn't given.
    """

    basis: BiasStudy
    tolerance: float
    share: float
    width: float
    Cg: float
    Cgk: float
    percent_repeatability: float
    percent_with_bias: float | None
    percent_step: float | None

    @property
    def study_variation(self) -> float:
        """Give width·s, in the readings' unit."""
        return self.width * self.basis.s


def type1_study(
    basis: BiasStudy,
    *,
    tolerance: float,
    share: float = USUAL_SHARE,
    width: float = STUDY_WIDTH,
    step: float | None = None,
) -> Type1Study:
    """Hold repeats on one reference, as ``bias_study`` found them, against a tolerance; all in one unit.

    Fifty readings are usual, 25 the least (common practice, no source); two are the least here. Formulas as read in a
    public package's tests. Raises BadStudySetting.
    """
    scale = Scale(tolerance=tolerance, width=width)
    expect(0 < share <= 1, "Share of the tolerance", "a number above 0, at most 1", share)
    expect(step is None or step > 0, "Step", "a length above zero", step)
    Cg = share * tolerance / (scale.width * basis.s)
    Cgk = (share * tolerance / 2 - abs(basis.bias.value)) / (scale.width * basis.s / 2)
    return Type1Study(
        basis=basis,
        tolerance=tolerance,
        share=share,
        width=scale.width,
        Cg=Cg,
        Cgk=Cgk,
        percent_repeatability=100 * share / Cg,
        percent_with_bias=100 * share / Cgk if Cgk > 0 else None,
        percent_step=None if step is None else 100 * step / tolerance,
    )
