"""Certificates of others, as the demo laboratory receives them: small invented PDF files with the same figures.

Written by hand as plain text on pages, which takes milliseconds; what this laboratory issues itself is rendered.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

_COLUMNS = (70, 220, 340)
_TOP, _BOTTOM, _LINE = 780, 60, 16
_PAGE = (
    "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Resources << /Font << /F1 3 0 R >> >> "
    "/Contents {content} 0 R >>"
)
_FONT = "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>"

Line = tuple[int, tuple[str, ...]]
"""The size of its letters, and its cells from left to right."""


def paper(title: str, facts: Sequence[tuple[str, str]], rows: Sequence[tuple[str, str, str]]) -> bytes:
    """Make a PDF of a page or more: what it is, the facts, a table of label, deviation and U."""
    lines: list[Line] = [(16, (title,)), (9, ("Invented, for the demo laboratory only.",)), (10, ())]
    lines += [(10, fact) for fact in facts]
    lines += [(10, ()), (12, ("Results",)), *((10, row) for row in rows)]
    fitting = (_TOP - _BOTTOM) // _LINE
    pages = [_page(lines[start : start + fitting]) for start in range(0, len(lines), fitting)]
    return _file(list(_objects(pages)))


def _page(lines: Sequence[Line]) -> bytes:
    """Write the operators that show lines from the top down."""
    shown = (
        f"BT /F1 {size} Tf {x} {_TOP - number * _LINE} Td ({_escaped(cell)}) Tj ET"
        for number, (size, cells) in enumerate(lines)
        for x, cell in zip(_COLUMNS, cells, strict=False)
    )
    return "\n".join(shown).encode("cp1252", "replace")


def _escaped(text: str) -> str:
    return text.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")


def _objects(pages: Sequence[bytes]) -> Iterator[bytes]:
    """Give the bodies of the file's objects in the order of their numbers: catalogue, pages, font, each page twice."""
    kids = " ".join(f"{4 + 2 * number} 0 R" for number in range(len(pages)))
    yield b"<< /Type /Catalog /Pages 2 0 R >>"
    yield f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>".encode()
    yield _FONT.encode()
    for number, content in enumerate(pages):
        yield _PAGE.format(content=5 + 2 * number).encode()
        yield b"<< /Length %d >>\nstream\n%b\nendstream" % (len(content), content)


def _file(objects: Sequence[bytes]) -> bytes:
    """Put objects into a file with the table of where each begins (ISO 32000-1, 7.5)."""
    written, begins = b"%PDF-1.4\n", []
    for number, body in enumerate(objects, start=1):
        begins.append(len(written))
        written += b"%d 0 obj\n%b\nendobj\n" % (number, body)
    table = "".join(f"{begin:010d} 00000 n \n" for begin in begins)
    count = len(objects) + 1
    trailer = f"trailer\n<< /Size {count} /Root 1 0 R >>\nstartxref\n{len(written)}\n%%EOF\n"
    return written + f"xref\n0 {count}\n0000000000 65535 f \n{table}{trailer}".encode()
