"""Working through many points in blocks, so that what is needed in between stays small and near the processor.

Lives here: the slices. May not live here: arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

BLOCK: Final = 8192
"""Points worked out at a time: with eight components each, half a megabyte for every array in between."""


def blocks(count: int, size: int = BLOCK) -> Iterator[slice]:
    """Give the slices of at most ``size`` that cover ``count`` points in order."""
    for start in range(0, count, size):
        yield slice(start, min(start + size, count))
