"""Linear expansion coefficients of what gauges and standards are made of, each with how well it is known.

Lives here: one table to start from. May not live here: what a gauge or standard was given; that is kept with each.
Tabulated values are averages over a span of temperatures and state no uncertainty, so each has a half-width.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class Material(StrEnum):
    """What a gauge or standard is made of."""

    STEEL = "steel"
    MARTENSITIC_STEEL = "martensitic stainless steel"
    AUSTENITIC_STEEL = "austenitic stainless steel"
    TUNGSTEN_CARBIDE = "tungsten carbide"
    CHROMIUM_CARBIDE = "chromium carbide"
    ZIRCONIA = "zirconia ceramic"
    CAST_IRON = "grey cast iron"
    GRANITE = "granite"
    ALUMINIUM = "aluminium"
    BRASS = "brass"
    COPPER = "copper"
    TITANIUM = "titanium alloy"
    SILICON = "silicon"
    NICKEL_IRON = "36 % nickel-iron"
    GLASS = "soda-lime glass"
    SILICA = "fused silica"


@dataclass(frozen=True, slots=True)
class Expansion:
    """A coefficient near 20 °C and the half-width it is known within, both in 1/K, and where the value is from."""

    per_k: Decimal
    half_width_per_k: Decimal
    source: str


_JOURNAL = "a national laboratory's journal article, PMC8345254; half-width by practice"
_TABLE = "a third of tabulated volume coefficients; half-width by practice"
_MEMORY = "from memory; half-width by practice"
_ROWS: Final = (
    (Material.STEEL, "11.5", "1.0", "ISO 3650 (from memory); the same in PMC8345254"),
    (Material.MARTENSITIC_STEEL, "10.2", "1.0", _MEMORY),
    (Material.AUSTENITIC_STEEL, "16.5", "1.0", _MEMORY),
    (Material.TUNGSTEN_CARBIDE, "4.6", "0.5", _MEMORY),
    (Material.CHROMIUM_CARBIDE, "8.4", "0.5", _MEMORY),
    (Material.ZIRCONIA, "9.5", "1.0", _MEMORY),
    (Material.CAST_IRON, "10.5", "1.0", _MEMORY),
    (Material.GRANITE, "7", "2", _MEMORY),
    (Material.ALUMINIUM, "23.1", "1.0", _JOURNAL),
    (Material.BRASS, "19", "1", _TABLE),
    (Material.COPPER, "16.6", "0.5", _TABLE),
    (Material.TITANIUM, "8.7", "0.5", _TABLE),
    (Material.SILICON, "2.6", "0.2", _JOURNAL),
    (Material.NICKEL_IRON, "1.5", "1.0", _MEMORY),
    (Material.GLASS, "8.5", "1.0", _MEMORY),
    (Material.SILICA, "0.55", "0.05", _MEMORY),
)

EXPANSIONS: Final[Mapping[Material, Expansion]] = MappingProxyType(
    {
        material: Expansion(Decimal(value).scaleb(-6), Decimal(half).scaleb(-6), source)
        for material, value, half, source in _ROWS
    }
)
"""Coefficients by material; values from memory are starting values that the laboratory confirms."""
