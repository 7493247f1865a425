"""What the template of a certificate is told: the document, its pictures, its ruler, its code. Same in, same out."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import segno
from django.template.loader import render_to_string

from instruments.certificates.document.parts import Document
from instruments.certificates.document.results import Line, Stage
from instruments.certificates.document.words import BOTH, STAGES, function_word, place_word
from labsys.pages.corridor import CorridorData, Earlier
from labsys.pages.fonts import font_faces_css
from labsys.pages.palette import PRINT

TEMPLATE = "instruments/certificates/certificate.html"
QR_ERROR = "m"
LEGEND = (
    "In the picture the walls are the limits, the hatched strips beside them the guard that the rule keeps free, the "
    "whisker is E ± U with the U that the rule uses, where that is wider than the mark; a smaller hollow mark is the "
    "result as found."
)


@dataclass(frozen=True)
class Row:
    """One result on the page: its words, its line, its picture."""

    function: str
    place: str
    line: Line
    corridor: CorridorData | None


@dataclass(frozen=True)
class Table:
    """One stage on the page."""

    title: str
    stage: Stage
    rows: tuple[Row, ...]
    are_errors: bool = True


def html_of(document: Document, *, draft: bool = False) -> str:
    """Write the whole page text, with styles and fonts inside; nothing in it points anywhere else."""
    return render_to_string(TEMPLATE, {**context(document), "draft": draft})


def context(document: Document) -> dict[str, Any]:
    """Give what the template needs."""
    return {
        "d": document,
        "tables": tables(document),
        "fonts": font_faces_css(),
        "p": PRINT,
        "legend": LEGEND,
        "ruler": ruler(),
        "qr": qr(document.verification_url) if document.verification_url else None,
    }


def tables(document: Document) -> tuple[Table, ...]:
    """Give the stages with a row and a picture for each result; as left shows what was found before."""
    before: dict[_Place, Line] = {}
    made = []
    for stage in document.stages:
        rows = tuple(_row(line, document, before) for line in stage.lines)
        are_errors = all(line.kind == "error" for line in stage.lines)
        made.append(Table(_title(document, stage), stage, rows, are_errors))
        before = {_place(line): line for line in stage.lines}
    return tuple(made)


def _title(document: Document, stage: Stage) -> str:
    if len(document.stages) == 1 and not document.adjustments:
        return f"Results {BOTH.lower()}"
    return f"Results {STAGES[stage.name].lower()}"


_Place = tuple[str, str, str, Decimal]


def _place(line: Line) -> _Place:
    return line.function, line.name, line.place, line.nominal_mm


def _row(line: Line, document: Document, before: dict[_Place, Line]) -> Row:
    return Row(
        function=line.name or function_word(line.function),
        place=place_word(line.place),
        line=line,
        corridor=picture(line, document.item.unit, document.item.resolution, before.get(_place(line))),
    )


def picture(line: Line, unit: str, step_text: str, before: Line | None = None) -> CorridorData | None:
    """Give the corridor of one result: the whisker is the U that the rule names. None without limits."""
    if line.lower_mm is None and line.upper_mm is None:
        return None
    where = ", ".join(filter(None, (line.name or function_word(line.function), place_word(line.place))))
    named = line.U_used_mm is not None and line.U_used_mm != line.U_mm
    return CorridorData(
        label=f"Result {line.number}, {where}",
        error_mm=line.error_mm,
        U_mm=line.U_used_mm or line.U_mm,
        U_name="U of the test value" if named else "U",
        lower_mm=line.lower_mm,
        upper_mm=line.upper_mm,
        acceptance_lower_mm=line.acceptance_lower_mm,
        acceptance_upper_mm=line.acceptance_upper_mm,
        verdict=line.verdict or None,
        unit=unit,
        step_text=line.step or step_text,
        as_found=Earlier(before.error_mm, before.verdict or None) if before else None,
    )


def ruler(length_mm: int = 174) -> str:
    """Give the ticks of a rule as one path, in millimetres: every fifth longer, every tenth longest."""
    return "".join(f"M{n} 0v{_tick(n)}" for n in range(length_mm + 1))


def _tick(n: int) -> float:
    if n % 10 == 0:
        return 4.2
    return 3.0 if n % 5 == 0 else 1.8


def qr(address: str) -> dict[str, Any]:
    """Give the QR code of an address as one path with its width in modules."""
    code = segno.make(address, error=QR_ERROR, micro=False)
    runs: list[str] = []
    for y, row in enumerate(code.matrix):
        runs.extend(f"M{x} {y}h1v1h-1z" for x, dark in enumerate(row) if dark)
    return {"path": "".join(runs), "width": len(code.matrix)}
