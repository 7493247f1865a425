"""The form of a decision rule: its kind, its parameters, the uncertainty it names, how it is stored and printed.

Lives here: Rule and its JSON form. May not live here: what follows from a rule (acceptance.py, decision.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any

from labsys.errors import LabError
from labsys.metrology.views import VIEW_WORDS, View


class RuleKind(StrEnum):
    """The six rules: ILAC-G8:09/2019 section 4, ISO 14253-1 (prove), JCGM 106:2012 section 8 (specific risk).

    *Prescribed*: the specification itself says how a result is accepted (ISO/IEC 17025:2017, 7.1.3 and 7.8.6.1).
    """

    SIMPLE = "simple"
    GUARDED = "guarded"
    SPECIFIC_RISK = "specific_risk"
    PROVE = "prove"
    FOUR_WAY = "four_way"
    PRESCRIBED = "prescribed"


_PARAMETERS: dict[RuleKind, tuple[str, ...]] = {
    RuleKind.SIMPLE: ("min_ratio",),
    RuleKind.GUARDED: ("g",),
    RuleKind.SPECIFIC_RISK: ("max_false_accept",),
    RuleKind.PROVE: ("g",),
    RuleKind.FOUR_WAY: ("g",),
    RuleKind.PRESCRIBED: ("document",),
}
_RULE_WORDS = {
    RuleKind.SIMPLE: "simple acceptance",
    RuleKind.GUARDED: "guarded acceptance, guard w = {g} · U",
    RuleKind.SPECIFIC_RISK: "acceptance with a false-accept probability of at most {max_false_accept}",
    RuleKind.PROVE: "conformance or non-conformance is to be proven, guard w = {g} · U",
    RuleKind.FOUR_WAY: "four-way statement, guard w = {g} · U",
    RuleKind.PRESCRIBED: "acceptance as {document} prescribes, its limits taken over; U is reported, not used",
}


class BadRule(LabError, ValueError):
    """A decision rule with a parameter that is missing, unknown or out of range."""

    code = "bad-rule"
    sentence = (
        "Decision rule, {place}: expected {expected}, found {found}. Correct the rule in the agreement."
    )


@dataclass(frozen=True, slots=True)
class Rule:
    """One decision rule with its parameters.

    ``view`` names the uncertainty it uses. ``min_ratio``: least (T_U − T_L)/(2U) of simple acceptance, None:
    agreed without one. ``g``: guard as a multiple of U, zero or more (a guard that widens the limits isn't
    offered). ``max_false_accept``: largest specific false-accept probability at the acceptance limit, above 0
    and at most 0.5. ``document``: title, edition and clause of the specification that prescribes the acceptance.
    Raises BadRule.
    """

    kind: RuleKind
    view: View
    min_ratio: Decimal | None = Decimal(4)
    g: Decimal = Decimal(1)
    max_false_accept: Decimal | None = None
    document: str = ""

    def __post_init__(self) -> None:
        """Refuse parameters that make no rule."""
        if not (self.g.is_finite() and self.g >= 0):
            raise BadRule(place="g", expected="zero or more", found=self.g)
        if self.min_ratio is not None and not (self.min_ratio.is_finite() and self.min_ratio >= 0):
            raise BadRule(place="min_ratio", expected="zero or more", found=self.min_ratio)
        risk = self.max_false_accept
        if risk is None and self.kind is RuleKind.SPECIFIC_RISK:
            raise BadRule(place="max_false_accept", expected="a probability", found="nothing")
        if risk is not None and not (risk.is_finite() and 0 < risk <= Decimal("0.5")):
            raise BadRule(place="max_false_accept", expected="above 0 and at most 0.5", found=risk)
        if self.kind is RuleKind.PRESCRIBED and not self.document.strip():
            raise BadRule(
                place="document", expected="the specification with edition and clause", found="nothing"
            )

    @property
    def words(self) -> str:
        """Give the rule as it is printed beside a verdict, with its parameters and the uncertainty it names."""
        given = {"g": self.g, "max_false_accept": self.max_false_accept, "document": self.document}
        words = _RULE_WORDS[self.kind].format(**given)
        if self.kind is RuleKind.SIMPLE:
            words += "" if self.min_ratio is None else f", accuracy ratio at least {self.min_ratio}"
        return f"{words} ({VIEW_WORDS[self.view]})"

    def to_json(self) -> dict[str, Any]:
        """Give ``{"kind": …, "view": …}`` and the parameters of this kind, decimals as strings."""
        stored: dict[str, Any] = {"kind": self.kind.value, "view": self.view.value}
        for name in _PARAMETERS[self.kind]:
            value = getattr(self, name)
            stored[name] = None if value is None else str(value)
        return stored

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Rule:
        """Read what ``to_json`` gave; parameters left out take their defaults; raises BadRule naming the place."""
        kind = RuleKind(_one_of(stored, "kind", RuleKind))
        view = View(_one_of(stored, "view", View))
        unknown = sorted(set(stored) - {"kind", "view", *_PARAMETERS[kind]})
        if unknown:
            raise BadRule(place=unknown[0], expected=f"a parameter of {kind.value}", found="an unknown one")
        return cls(
            kind, view, **{name: _parameter(stored, name) for name in _PARAMETERS[kind] if name in stored}
        )


def _one_of(stored: Mapping[str, Any], name: str, words: type[StrEnum]) -> str:
    found = stored.get(name)
    if found not in list(words):
        raise BadRule(place=name, expected="one of " + ", ".join(words), found=found)
    return str(found)


def _parameter(stored: Mapping[str, Any], name: str) -> Any:
    found = stored[name]
    if name == "document":
        return _document(found)
    if found is None and name == "min_ratio":
        return None
    try:
        return Decimal(str(found))
    except InvalidOperation as fault:
        raise BadRule(place=name, expected="a number", found=found) from fault


def _document(found: Any) -> str:
    if not isinstance(found, str):
        raise BadRule(place="document", expected="a text", found=found)
    return found.strip()
