"""Readings of the published studies, in the order the studies take them, and studies drawn by chance."""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.labsys.metrology.published import case, entry


def ten_parts() -> list[list[list[float]]]:
    """Give the manual's ten parts, three appraisers, three trials as [part][appraiser][trial]."""
    rows = case("msa-grr-anova")["data"]["trial_rows_by_appraiser"]
    return [[[rows[who][trial][part] for trial in range(3)] for who in "ABC"] for part in range(10)]


def open_data() -> list[list[list[float]]]:
    """Give the open data set as [part][appraiser][trial]."""
    found: list[list[list[float]]] = case("grr-open-data")["data"]["part_operator_trial"]
    return found


def close_to_print(name: str, quantity: str, found: float) -> bool:
    """Say whether ``found`` agrees with the printed value, by the tolerance of its entry."""
    one = entry(name, quantity)
    allowed = one.get("tol", 0)
    if isinstance(allowed, str):
        allowed = 1e-12 * abs(float(one["printed"]))
    return bool(abs(found - float(one["printed"])) <= allowed * 1.0000001 + 1e-15)


def drawn(rng: np.random.Generator, shape: tuple[int, int, int], sd: dict[str, float]) -> Any:
    """Draw a crossed study: readings with standard deviations *part*, *appraiser*, *interaction*, *repeatability*."""
    parts, appraisers, trials = shape
    return (
        rng.normal(0, sd["part"], (parts, 1, 1))
        + rng.normal(0, sd["appraiser"], (1, appraisers, 1))
        + rng.normal(0, sd["interaction"], (parts, appraisers, 1))
        + rng.normal(0, sd["repeatability"], (parts, appraisers, trials))
    )
