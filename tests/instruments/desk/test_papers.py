"""The certificates of others that the demo receives are PDF files that a reader opens."""

from __future__ import annotations

from io import BytesIO

from pypdf import PdfReader

from instruments.desk.demo.papers import paper


def test_a_paper_holds_its_facts_and_every_line_on_as_many_pages_as_it_takes() -> None:
    rows = [(f"{number} mm", "0.0001 mm", "0.0002 mm") for number in range(90)]
    made = paper("Calibration certificate", (("Conditions", "(20.0 ± 0.3) °C, by \\ comparison"),), rows)
    pages = [page.extract_text() for page in PdfReader(BytesIO(made), strict=True).pages]
    assert len(pages) == 3 and pages[0].startswith("Calibration certificate")
    assert "(20.0 ± 0.3) °C, by \\ comparison" in pages[0]
    assert [label for label, _deviation, _U in rows if label not in " ".join(pages)] == []
