"""Whether an issuer was recognised for what it certified: scope lines in force on a day, range, smallest U.

Lives here: arithmetic on loaded rows. CMC is compared at k = 2, as scopes state it (ILAC-P14).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from decimal import Decimal

from standards.register.models import ElementValue
from standards.register.queries import end_of_day
from standards.traceability.models import Accreditation

ROUNDING = Decimal("0.95")
"""A U that is printed with two digits may have lost up to 5 % by rounding; it is still the CMC that was meant."""


def in_force(
    rows: Iterable[Accreditation], day: date, known_at: datetime | None = None
) -> list[Accreditation]:
    """Find the scope lines that held on ``day`` (as known at ``known_at``, or now), newest row of each line.

    A line is known by body, number, quantity and range: a new CMC is a new row of the same line.
    """
    end = end_of_day(day)
    newest: dict[tuple[object, ...], Accreditation] = {}
    for row in sorted(rows, key=lambda row: (row.valid_from, row.recorded_at, row.pk)):
        if row.valid_from <= end and (known_at is None or row.recorded_at <= known_at):
            newest[line_of(row)] = row
    return [row for row in newest.values() if not row.withdrawn and not _lapsed(row, day)]


def line_of(row: Accreditation) -> tuple[object, ...]:
    """Give what makes two rows the same line of a scope."""
    return (row.issuer_id, row.body, row.number, row.quantity, row.range_low_mm, row.range_high_mm)


def outside(lines: list[Accreditation], values: Iterable[ElementValue]) -> Iterator[ElementValue]:
    """Find the values whose length no line covers."""
    for value in values:
        if not _covering(lines, value):
            yield value


def below_cmc(
    lines: list[Accreditation], values: Iterable[ElementValue]
) -> Iterator[tuple[ElementValue, Decimal]]:
    """Find the values whose U, taken to k = 2, is smaller than the smallest CMC that covers them (in mm)."""
    for value in values:
        cmcs = [cmc(line, value.element.nominal_mm) for line in _covering(lines, value)]
        doubled = at_two(value)
        if cmcs and doubled is not None and doubled < min(cmcs) * ROUNDING:
            yield value, min(cmcs)


def cmc(line: Accreditation, length_mm: Decimal) -> Decimal:
    """Give the smallest U in mm (k = 2) that a scope line allows at a length."""
    constant: Decimal = line.cmc_constant_mm
    return constant + line.cmc_per_length * length_mm


def at_two(value: ElementValue) -> Decimal | None:
    """Give U taken to k = 2, in mm; None for a value that stands on a grade limit."""
    return None if value.U_mm is None or not value.k else value.U_mm / value.k * 2


def _covering(lines: list[Accreditation], value: ElementValue) -> list[Accreditation]:
    return [line for line in lines if line.range_low_mm <= value.element.nominal_mm <= line.range_high_mm]


def _lapsed(row: Accreditation, day: date) -> bool:
    return row.lapses_on is not None and row.lapses_on < day
