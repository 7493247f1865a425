"""Results that several readings have together: spans, hysteresis, variation, roundness, taper, and their uncertainty.

Lives here: which two readings such a result lies between, and U of the difference of two errors of one gauge. May not
live here: limits and verdicts (decision.py), where a gauge is read (procedures).
"""

from labsys.metrology.characteristics.differences import difference_views
from labsys.metrology.characteristics.drift_free import (
    ORDERS,
    Rounds,
    rounds_of,
)
from labsys.metrology.characteristics.extremes import (
    Between,
    NothingToCompare,
    widest,
    widest_apart,
    widest_within,
)

__all__ = [
    "ORDERS",
    "Rounds",
    "rounds_of",
    "Between",
    "NothingToCompare",
    "difference_views",
    "widest",
    "widest_apart",
    "widest_within",
]
