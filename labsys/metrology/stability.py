"""How much the length of a gauge block may change in a year.

Lives here: the permitted change by grade. May not live here: what blocks did change (drift of a standard).
"""

from __future__ import annotations

import math
from enum import StrEnum

from labsys.errors import LabError


class BlockGrade(StrEnum):
    """Grades of gauge blocks, ISO 3650 and, where it has its own word, ASME B89.1.9."""

    K = "K"
    ZERO = "0"
    ONE = "1"
    TWO = "2"
    AS_1 = "AS-1"
    AS_2 = "AS-2"


class NoBlockLength(LabError, ValueError):
    """A length that no gauge block has."""

    code = "no-block-length"
    sentence = "Expected the length of a gauge block, above zero and at most 1000 mm, found {found}."


_FINE, _COARSE = (0.02, 0.25e-3), (0.05, 0.5e-3)
_CHANGE_UM = {grade: _FINE if grade in (BlockGrade.K, BlockGrade.ZERO) else _COARSE for grade in BlockGrade}
LONGEST_MM = 1000.0


def permitted_change_um(length_mm: float, grade: BlockGrade) -> float:
    """Give the largest change of length in µm per year of a block that lies undisturbed.

    Grades K and 0: 0.02 µm + 0.25·10⁻⁶·L; 1 and 2: 0.05 µm + 0.5·10⁻⁶·L (ISO 3650, as in US Army TB 9-5210-205-50;
    K from memory). Raises NoBlockLength.
    """
    if not (math.isfinite(length_mm) and 0 < length_mm <= LONGEST_MM):
        raise NoBlockLength(found=length_mm)
    constant, per_mm = _CHANGE_UM[grade]
    return constant + per_mm * length_mm
