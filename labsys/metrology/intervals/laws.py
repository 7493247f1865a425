"""Reliability laws: ln R(t; parameters), many ages and many sets of parameters at once.

Lives here: the formulas alone. May not live here: their names and starts, data, fits.
Ages have shape (n,), parameters (k, m, 1) and are above zero, answers (m, n).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

SHOCKS = 4
"""Shocks that the modified gamma law takes until an item is out."""


def exponential(t: Array, p: Array) -> Array:
    """Give ln R for R = exp(−a·t)."""
    found: Array = -p[0] * t
    return found


def weibull(t: Array, p: Array) -> Array:
    """Give ln R for R = exp(−(a·t)^b)."""
    found: Array = -((p[0] * t) ** p[1])
    return found


def mixed(t: Array, p: Array) -> Array:
    """Give ln R for R = (1 + a·t)^(−b)."""
    import numpy as np

    found: Array = -p[1] * np.log1p(p[0] * t)
    return found


def log_erf(spread: Array) -> Array:
    """Give ln erf(1/√s) for s above zero, with all digits where it is near zero too."""
    import numpy as np
    from scipy.special import erf, erfc

    z = 1 / np.sqrt(spread)
    found: Array = np.where(z > 0.5, np.log1p(-erfc(z)), np.log(erf(z)))
    return found


def walk(t: Array, p: Array) -> Array:
    """Give ln R for R = erf(1/√(a + b·t))."""
    return log_erf(p[0] + p[1] * t)


def restricted(t: Array, p: Array) -> Array:
    """Give ln R for R = erf(1/√(a + b·(1 − exp(−c·t))))."""
    import numpy as np

    return log_erf(p[0] - p[1] * np.expm1(-p[2] * t))


def gamma(t: Array, p: Array) -> Array:
    """Give ln R for R = exp(−a·t)·Σ (a·t)^k/k!, k = 0 to 3."""
    import numpy as np
    from scipy.special import gammainc, gammaincc

    x = p[0] * t
    # Each where it is small, so that neither R near 1 nor R near 0 loses its digits.
    with np.errstate(divide="ignore"):
        found: Array = np.where(x < SHOCKS, np.log1p(-gammainc(SHOCKS, x)), np.log(gammaincc(SHOCKS, x)))
    return found


def mortality(t: Array, p: Array) -> Array:
    """Give ln R for R = exp(−(a·t + b·t²))."""
    found: Array = -(p[0] * t + p[1] * t * t)
    return found


def warranty(t: Array, p: Array) -> Array:
    """Give ln R for R = 1/(1 + exp(a·(t − b)))."""
    import numpy as np

    found: Array = -np.logaddexp(0.0, p[0] * (t - p[1]))
    return found


def drift(t: Array, p: Array) -> Array:
    """Give ln R for R = Φ(a + c·t) + Φ(b − c·t) − 1."""
    import numpy as np
    from scipy.special import ndtr

    out = ndtr(-p[0] - p[2] * t) + ndtr(-p[1] + p[2] * t)
    # Within rounding of 1 nothing is left in; the logarithm must stay a number.
    found: Array = np.log1p(-np.minimum(out, 1 - 1e-16))
    return found


def lognormal(t: Array, p: Array) -> Array:
    """Give ln R for R = 1 − Φ(ln(a·t)/b)."""
    import numpy as np
    from scipy.special import log_ndtr

    found: Array = log_ndtr(-np.log(p[0] * t) / p[1])
    return found
