"""The results on a certificate: lines in stages, the uncertainty's sentences, the statement of conformity."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Printed:
    """The figures of one line as they stand on the page, in the item's unit without it."""

    length: str
    reference: str
    reading: str
    error: str
    U: str


@dataclass(frozen=True, slots=True)
class Line:
    """One result. ``U_mm`` is the calibration uncertainty, ``U_used_mm`` the one the decision rule names.

    ``number`` counts through the whole certificate. Limits and acceptance limits are None where there are none, the
    verdict is empty where none was given, ``U_mm`` and ``k`` are None of what only fits or doesn't. ``kind`` says what
    ``error_mm`` is: an error, a deviation of size, a span …; ``name`` what was measured where that is no function at a
    place on the faces; ``step`` the smallest difference that was read, where it isn't the item's own.
    """

    number: int
    function: str
    place: str
    nominal_mm: Decimal
    reference_mm: Decimal
    reading_mm: Decimal
    error_mm: Decimal
    U_mm: Decimal | None
    k: Decimal | None
    printed: Printed
    standards: tuple[str, ...] = ()
    lower_mm: Decimal | None = None
    upper_mm: Decimal | None = None
    acceptance_lower_mm: Decimal | None = None
    acceptance_upper_mm: Decimal | None = None
    U_used_mm: Decimal | None = None
    verdict: str = ""
    conformance: str = ""
    note: str = ""
    kind: str = "error"
    name: str = ""
    step: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """The set of results before or after an adjustment, with its days, zero and verdict."""

    name: str
    measured_from: date
    measured_to: date
    lines: tuple[Line, ...]
    zero: str = ""
    verdict: str = ""


@dataclass(frozen=True, slots=True)
class Coverage:
    """One sentence about k, shape and coverage probability, and the numbers of the results it holds for."""

    results: tuple[int, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """How U was obtained: for every result one sentence, and what both have in common."""

    basis: str
    coverage: tuple[Coverage, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """The verdict of one stage, and which of its results have which."""

    stage: str
    verdict: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Conformity:
    """The statement of conformity: which results, against what, by which rule with which U, at which risk.

    ``by_customer``: the limits are data that the customer supplied.
    """

    covers: str
    findings: tuple[Finding, ...]
    specification: str
    confirmed: bool
    by_customer: bool
    agreed: str
    rule: str
    uncertainty: str
    risk: str
