"""The readings of a planned study as one block of numbers with named axes.

Lives here: reading nested lists into an array and refusing what no analysis could take. May not live here: any
analysis.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from labsys.errors import LabError
from labsys.metrology.exact import NotANumber

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LARGEST: Final = 1e100
"""Readings beyond it would overflow when squared and added up."""


class UnbalancedStudy(LabError, ValueError):
    """A planned study with a missing or an extra reading."""

    code = "unbalanced-study"
    sentence = (
        "Expected {expected} at {place}, as at the first one, found {found}. Take the missing reading, or leave "
        "that part or appraiser out of the study."
    )


class StudyTooSmall(LabError, ValueError):
    """Too few parts, appraisers, trials or readings for what is asked."""

    code = "study-too-small"
    sentence = "Expected at least {least} {what} for this study, found {found}. Take more, or choose a smaller design."


class ReadingOutOfReach(LabError, ValueError):
    """A reading so large that its square is no number."""

    code = "reading-out-of-reach"
    sentence = "Expected readings under 1e100 in size, found {found:g}. Give them in a larger unit."


class NoSpreadSeen(LabError, ValueError):
    """Readings that were all alike where their spread was to be found."""

    code = "no-spread-seen"
    sentence = (
        "Expected readings that differ {where}, found all alike: the step of the display hides the spread. Study "
        "with a finer step, or take step/√12 as the standard deviation."
    )


def checked(reading: float) -> float:
    """Give a reading back; raises NotANumber for NaN and infinities, ReadingOutOfReach beyond 1e100."""
    if not math.isfinite(reading):
        raise NotANumber(found=str(reading))
    if abs(reading) > LARGEST:
        raise ReadingOutOfReach(found=reading)
    return float(reading)


def row(readings: Sequence[float], *, least: int, what: str = "readings") -> NDArray[np.float64]:
    """Make an array of one row of readings, at least ``least`` of them; raises StudyTooSmall and as ``checked``."""
    import numpy as np

    enough(len(readings), least, what)
    return np.array([checked(one) for one in readings], dtype=np.float64)


def cube(readings: Sequence[Any], *, axes: Sequence[str]) -> NDArray[np.float64]:
    """Make one array of readings nested as deep as there are ``axes`` ("part", "appraiser", "trial").

    Raises UnbalancedStudy naming the place where a row is longer or shorter than the first of its depth, StudyTooSmall
    for an empty axis, NotANumber and ReadingOutOfReach for readings that are none.
    """
    import numpy as np

    shape = []
    first: Any = readings
    for axis in axes:
        enough(len(first), 1, f"{axis}s")
        shape.append(len(first))
        first = first[0]
    flat = list(_flat(readings, axes, shape, ""))
    return np.array(flat, dtype=np.float64).reshape(shape)


def in_order(readings: Sequence[Any], *, given: Sequence[str], wanted: Sequence[str]) -> list[Any]:
    """Turn readings nested by the axes ``given`` into such nested by ``wanted``; raises as ``cube``."""
    import numpy as np

    array = cube(readings, axes=given)
    turned: list[Any] = np.transpose(array, [list(given).index(axis) for axis in wanted]).tolist()
    return turned


def enough(found: int, least: int, what: str) -> None:
    """Refuse fewer than ``least`` of something; raises StudyTooSmall."""
    if found < least:
        raise StudyTooSmall(least=least, what=what, found=found)


def spread_within(readings: NDArray[np.float64]) -> bool:
    """Say whether any readings along the last axis differ; exact, where a sum of squares would hold float dust."""
    return bool((readings.max(axis=-1) > readings.min(axis=-1)).any())


def _flat(found: Any, axes: Sequence[str], shape: Sequence[int], place: str) -> Iterator[float]:
    if not axes:
        yield checked(found)
        return
    if len(found) != shape[0]:
        raise UnbalancedStudy(expected=f"{shape[0]} {axes[0]}s", place=place, found=len(found))
    for index, one in enumerate(found, 1):
        where = f"{place}, {axes[0]} {index}" if place else f"{axes[0]} {index}"
        yield from _flat(one, axes[1:], shape[1:], where)
