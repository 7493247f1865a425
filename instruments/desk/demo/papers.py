"""Certificates of others, as the demo laboratory receives them: small invented PDF files with the same figures."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

_STYLE = "@page { size: A4; margin: 25mm } body { font-family: sans-serif; font-size: 10pt } td { padding: 1mm 4mm }"


def paper(title: str, facts: Sequence[tuple[str, str]], rows: Sequence[tuple[str, str, str]]) -> bytes:
    """Make a one- or two-page PDF: what it is, the facts, a table of label, deviation and U."""
    from weasyprint import HTML  # it takes a second to import, and most commands never need it

    lines = "".join(f"<tr><td>{escape(name)}</td><td>{escape(text)}</td></tr>" for name, text in facts)
    table = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    html = (
        f"<style>{_STYLE}</style><h1>{escape(title)}</h1><p>Invented, for the demo laboratory only.</p>"
        f"<table>{lines}</table><h2>Results</h2><table>{table}</table>"
    )
    content: bytes = HTML(string=html).write_pdf()
    return content
