"""What a content of angles may not say, since it has a meaning for lengths only.

Lives here: ``require``. May not live here: how a content is read (parsing.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from instruments.procedures.content.parts import Content
from instruments.procedures.content.reader import Reader

KINDS = ("standard", "drift", "wringing", "zero", "reading", "geometry", "parallelism", "constant")
"""Components of an uncertainty that an angle can have: none that grows with a length or with the temperature."""


def require(content: Content, top: Reader) -> None:
    """Refuse points over range and faces, thermal components, what grows with the length; raises ContentFault."""
    if content.points is not None:
        raise top.at("points").fault("series alone, where angles are measured", "rules over range and faces")
    if content.references.U_per_mm:
        raise top.at("references").at("U_per_mm").fault("0, where angles are measured")
    _components(content.budget, top.at("budget"))
    for one, at in zip(content.series, top.at("series").items(), strict=True):
        if one.band_mm is not None:
            raise at.at("reads").fault("no bands of light, where angles are measured")
        if one.budget is not None:
            _components(one.budget, at.at("budget"))


def _components(found: tuple[Mapping[str, Any], ...], at: Reader) -> None:
    for one, place in zip(found, at.items(), strict=True):
        if one["kind"] not in KINDS:
            raise place.at("kind").fault("a component an angle has: " + ", ".join(KINDS))
        if one.get("per_mm_per_year") not in (None, "0"):
            raise place.at("per_mm_per_year").fault("nothing that grows with the length")
