"""How severe a finding is, and what it means for a product that was measured.

Lives here: the figures a case shows, and the corrected product. May not live here: who decides what is done.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, localcontext
from enum import StrEnum

from labsys.metrology.conformance import Spread, conformance_probability
from labsys.metrology.error import from_picometres, to_picometres
from labsys.metrology.exact import EXACT
from labsys.metrology.limits import Limits


@dataclass(frozen=True, slots=True)
class Severity:
    """How far an error found lies in or beyond its limits.

    ``ratio`` is error over limit on its own side, None where there is no limit or one that zero is beyond or on;
    ``excess_mm`` the distance beyond the nearest limit, minus inside; ``conformance_probability`` that the true error
    lies within.
    """

    ratio: float | None
    excess_mm: Decimal
    conformance_probability: float


class ProductStatus(StrEnum):
    """What a product measured with a wrong gauge is, once its recorded size is corrected."""

    STILL_INSIDE = "still inside"
    NOW_OUTSIDE = "now outside"
    STILL_OUTSIDE = "still outside"
    NOW_INSIDE = "now inside"


@dataclass(frozen=True, slots=True)
class ProductImpact:
    """A product's corrected size with its distance to the nearest of its limits, minus outside, both in mm."""

    corrected_mm: Decimal
    margin_mm: Decimal
    status: ProductStatus


def severity(error_mm: Decimal, limits: Limits, spread: Spread) -> Severity:
    """Give ratio, excess and conformance probability of an error found (mm), the latter with a flat prior.

    JCGM 106:2012, 7.2 to 7.4. Raises LimitMissing, NotANumber.
    """
    error = from_picometres(to_picometres(error_mm))
    limit = limits.upper if error >= 0 else limits.lower
    # Seen from the plus side a probability far out keeps its digits.
    towards_plus = (error, limits) if error >= 0 else (-error, _mirrored(limits))
    return Severity(
        ratio=None if limit is None or limit * (1 if error >= 0 else -1) <= 0 else float(error / limit),
        excess_mm=-limits.margin(error),
        conformance_probability=conformance_probability(*towards_plus, spread),
    )


def product_impact(recorded_mm: Decimal, gauge_error_mm: Decimal, limits: Limits) -> ProductImpact:
    """Correct a product's recorded size by the error its gauge was found to have: x′ = x − e, and judge it plainly.

    Common practice, no source. Raises LimitMissing, NotANumber.
    """
    with localcontext(EXACT):
        corrected = from_picometres(to_picometres(recorded_mm - gauge_error_mm))
    was_inside, margin = limits.margin(recorded_mm) >= 0, limits.margin(corrected)
    if margin >= 0:
        status = ProductStatus.STILL_INSIDE if was_inside else ProductStatus.NOW_INSIDE
    else:
        status = ProductStatus.NOW_OUTSIDE if was_inside else ProductStatus.STILL_OUTSIDE
    return ProductImpact(corrected, margin, status)


def _mirrored(limits: Limits) -> Limits:
    return Limits(
        None if limits.upper is None else -limits.upper, None if limits.lower is None else -limits.lower
    )
