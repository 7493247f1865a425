"""The pages: all that the document says is on them, they are always the same bytes, nothing comes from outside."""

from __future__ import annotations

import hashlib
import io
import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from typing import Any

import pytest
from pypdf import PdfReader

from instruments.certificates.document import Document, dump, parts, words
from instruments.certificates.printing import RenderingFailed, SignNotInType, pdf, pdf_of, require_printable
from instruments.certificates.printing.sheet import html_of, picture, tables
from labsys.metrology.units import Unit
from labsys.pages import pdf as labels
from tests.instruments.certificates import samples
from tests.instruments.certificates.test_document import APPLICABLE

pytestmark = pytest.mark.usefixtures("type_is_built")


@lru_cache
def reader(kind: str = "document") -> PdfReader:
    """Render a sample once and open it."""
    makers: dict[str, Callable[[], Document]] = {
        "document": samples.document,
        "one_set": samples.one_set,
        "inch": lambda: samples.one_set(Unit.IN),
        "rejected": samples.rejected_at_sight,
    }
    return PdfReader(io.BytesIO(pdf_of(makers[kind]())))


def text(kind: str = "document") -> str:
    """Give the words of all pages, folded to single spaces."""
    return " ".join(" ".join(page.extract_text() for page in reader(kind).pages).split())


# What each item of the published list looks like on the pages of the sample.
ON_PAPER: dict[int, tuple[str, ...]] = {
    1: ("Calibration certificate",),
    2: ("Calibration laboratory of the pump works", "Works road 4 4020 Plant", "laboratory@plant.example"),
    3: ("Place of work Laboratory, room 1",),
    4: ("CAL-00042", "page 1 of 3", "End of certificate CAL-00042"),
    5: ("Customer Housings", "Contact area lead of Housings, extension 210"),
    6: ("P-CAL Calipers up to 300 mm, revision 3, approved 2026-02-02", "it names ISO 13385-1:2019"),
    7: (
        "Caliper C-0117",
        "Maker A, D150",
        "Serial number A-5511",
        "0 mm to 150 mm; 0.01 mm",
        "condition: clean; light marks on the beam; thumb roller worn.",
    ),
    8: ("Received 2026-11-23",),
    9: ("Calibrated 2026-11-24 to 2026-11-25",),
    10: ("Issued 2026-11-25",),
    12: ("The results relate only to the item described",),
    13: (
        "Length Error E U k",
        "mm mm mm",
        "A positive error means that the gauge reads too long",
        "Error of indication E: the length the gauge indicates minus the reference length",
        "5 outside, tips 150.0001, 150.04 150.00 +0.0399 0.0064 1.89 out of tolerance",
        "18 small bore 4.9998, 4.99 5.00 −0.0098 0.0064",
    ),
    14: ("One point at the tips beyond 100 mm was planned", "Accepted by Reviewer 1: The faces show a burr"),
    15: (
        "Measured by Technician 1 technician, 2026-11-25 09:40",
        "Reviewed and authorised by Reviewer 1 reviewer, 2026-11-25 10:05",
    ),
    17: ("shall not be reproduced except in full",),
    18: ("Data supplied by the customer The limits of error were stated by the customer",),
    19: (
        "U is the expanded uncertainty of measurement",
        "coverage factor k = 1.89",
        "trapezoidal distribution",
        "coverage probability of about 95.45 %",
    ),
    20: (
        "Temperature 20.3 °C on average, from 20.1 °C to 20.6 °C",
        "relative humidity 46 % to 49 %",
        "In the laboratory for 24 h before the first reading",
        "11.5 µm/(m·K)",
        "All values refer to 20 °C (ISO 1)",
    ),
    21: ("traceable to the metre", "KB-881/26 Invented accredited laboratory", "service in its scope"),
    22: (
        "Results as found",
        "Results as left",
        "Gib screws set, thumb roller replaced. Parts: thumb roller.",
    ),
    23: (
        "This statement covers results 1–18.",
        "Results 1–4, 6–9 in tolerance; result 5 out of tolerance.",
        "Limits from Plant instruction Q-07, table 2.",
        "has not confirmed",
        "Guarded acceptance, guard w = 1 · U (test value uncertainty).",
        "lies beyond the nearer limit is at most 2.3 %",
        "Agreed beforehand: Housings, by its area lead, 2026-01-05",
    ),
    25: ("S-RING-5 Setting ring 5 mm, serial R-0034 KB-902/26", "2026-04-14 2028-04-14"),
    26: ("Next due 2027-11-25", "because it was agreed by the area lead of Housings"),
    30: ("Limited calibration: scribing was not measured",),
}


# These are on some certificates only: see test_what_only_some_certificates_say.
ON_SOME = {28, 29}


def test_the_list_of_items_is_the_published_one() -> None:
    assert ON_PAPER.keys() | ON_SOME == APPLICABLE.keys()


@pytest.mark.parametrize("number", sorted(ON_PAPER))
def test_every_item_is_on_the_pages(number: int) -> None:
    missing = [said for said in ON_PAPER[number] if said not in text()]
    assert missing == [], APPLICABLE[number]


def test_what_only_some_certificates_say() -> None:
    document = samples.document()
    replaced = parts.Replaces("CAL-00041", "Serial number corrected.", "typing error")
    receipt = replace(document.receipt, damaged=True, departure=words.DEPARTURE)
    decision = words.ONE_SIGNATURE.format(day="2026-01-05", who="The manager", reason="one person")
    statements = replace(document.statements, one_signature=decision)
    customer = replace(document.customer, owner="Supplier B (supplier)")
    made = replace(
        document, replaces=replaced, receipt=receipt, statements=statements, customer=customer, due=None
    )
    html = html_of(made)
    assert "Replaces certificate CAL-00041." in html
    assert "Serial number corrected. Reason: typing error" in html
    assert "received with the departure described above" in html
    assert (
        "without a second signature by its decision of 2026-01-05 (The manager). Reason: one person." in html
    )
    assert "Supplier B (supplier)" in html
    assert "Next due" not in html


def test_every_page_has_number_and_page_count_and_only_the_last_the_end() -> None:
    pages = [page.extract_text() for page in reader().pages]
    for number, page in enumerate(pages, start=1):
        assert "CAL-00042" in page
        assert f"page {number} of {len(pages)}" in page
    assert ["End of certificate" in page for page in pages] == [False] * (len(pages) - 1) + [True]


def test_one_set_says_that_it_serves_as_both() -> None:
    assert "Results as found and as left" in text("one_set")
    assert "one set of results serves as found and as left" in text("one_set")
    assert "Results as left" not in text("one_set")


def test_a_gauge_that_reads_inches_is_reported_in_inches() -> None:
    assert "0 in to 6 in; 0.0005 in" in text("inch")
    assert "in in in P of conformance" in text("inch")
    # 41.30 mm read where 41.3003 mm was: −0.0003 mm is −0.0000118 in; U 0.0064 mm is 0.00025 in.
    assert "1.6260 −0.00001 0.00025" in text("inch")


def test_a_gauge_rejected_at_sight_has_a_certificate_without_results() -> None:
    assert "Rejected as it is Not good: the jaws meet without light between them (jaw bent)" in text(
        "rejected"
    )
    assert "The work ended before anything was measured." in text("rejected")
    assert "Error between the limits" not in text("rejected")


def test_nothing_claims_to_comply() -> None:
    for kind in ("document", "one_set"):
        assert not re.search(r"\bcompl(y|ies|iance)", text(kind))


def test_every_result_has_its_picture() -> None:
    html = html_of(samples.document())
    assert html.count('class="corridor corridor-row"') == 18
    # As left shows what was found before it; as found has nothing before it.
    assert html.count('class="corridor-before"') == 9


def test_the_picture_says_what_the_line_says() -> None:
    document = samples.document()
    line = document.stages[0].lines[4]
    data = picture(line, "mm", "0.01")
    assert data is not None
    assert (data.error_mm, data.verdict, data.lower_mm) == (
        Decimal("0.0399"),
        "out_of_tolerance",
        line.lower_mm,
    )
    assert data.U_mm == line.U_used_mm != line.U_mm
    assert data.acceptance_upper_mm == line.acceptance_upper_mm
    again = tables(document)[1].rows[4].corridor
    assert again is not None and again.as_found is not None
    assert (again.as_found.error_mm, again.as_found.verdict) == (line.error_mm, line.verdict)


def test_the_pages_are_the_same_bytes_every_time() -> None:
    assert pdf_of(samples.one_set()) == pdf_of(samples.one_set())


def test_another_process_makes_the_same_bytes(settings: Any) -> None:
    code = (
        "import django, hashlib; django.setup()\n"
        "from django.conf import settings\n"
        f"settings.ASSETS_DIR = {str(settings.ASSETS_DIR)!r}\n"
        "from tests.instruments.certificates.samples import document\n"
        "from instruments.certificates.printing import pdf_of\n"
        "print(hashlib.sha256(pdf_of(document())).hexdigest())\n"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "7", "DJANGO_SETTINGS_MODULE": "tests.settings"}
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.split()[-1] == hashlib.sha256(pdf_of(samples.document())).hexdigest()


def test_the_document_is_attached_as_it_was_signed() -> None:
    attached = reader().attachments["certificate.json"]
    assert attached == [dump(samples.document()).encode()]


def test_it_declares_itself_an_archival_file_that_reads_as_text() -> None:
    catalogue: Any = reader().trailer["/Root"]
    xmp = catalogue["/Metadata"].get_data().decode()
    assert re.search(r"pdfaid:part[>=\"']+3", xmp)
    assert re.search(r"pdfaid:conformance[>=\"']+U", xmp)
    assert catalogue["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
    assert catalogue["/AF"][0].get_object()["/AFRelationship"] == "/Data"
    assert catalogue["/Lang"] == "en"
    assert "/StructTreeRoot" in catalogue


@pytest.mark.parametrize("kind", ["document", "inch", "rejected"])
def test_only_its_own_type_is_used_and_all_of_it_is_inside(kind: str) -> None:
    for page in reader(kind).pages:
        fonts: Any = page["/Resources"]["/Font"]  # type: ignore[index]
        for font in fonts.values():
            described = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert re.search(r"\+Source-S(ans-3|erif-4)", described["/FontName"]), described["/FontName"]
            assert "/FontFile2" in described


@pytest.mark.parametrize(
    "address", ["file:///etc/hostname", "http://127.0.0.1:9/x.png", "https://plant.example/x.png"]
)
def test_a_page_that_points_outside_is_not_made_at_all(monkeypatch: Any, address: str) -> None:
    monkeypatch.setattr(pdf, "html_of", lambda document, draft: f'<img src="{address}">')
    with pytest.raises(RenderingFailed, match="CAL-00042"):
        pdf_of(samples.document())


def test_whatever_goes_wrong_has_a_name(monkeypatch: Any) -> None:
    def fall(document: Document, draft: bool) -> str:
        raise TypeError("no such thing")

    monkeypatch.setattr(pdf, "html_of", fall)
    with pytest.raises(RenderingFailed, match="TypeError: no such thing"):
        pdf_of(samples.document())


def test_one_document_at_a_time(monkeypatch: Any) -> None:
    """Labels and certificates share one lock: the layout library breaks under two threads, whoever they print for."""
    import weasyprint

    inside: list[int] = []
    most: list[int] = []

    def slow(self: Any, **options: Any) -> bytes:
        inside.append(1)
        most.append(len(inside))
        time.sleep(0.05)
        inside.pop()
        return b""

    monkeypatch.setattr(weasyprint.HTML, "write_pdf", slow)
    monkeypatch.setattr(pdf, "html_of", lambda document, draft: "<p>")
    calls = [lambda: pdf_of(samples.document()), lambda: labels.render("<p>")] * 2
    workers = [threading.Thread(target=call) for call in calls]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert most == [1, 1, 1, 1]


def test_a_draft_says_so_on_every_page_and_certifies_nothing() -> None:
    document = replace(samples.document(), number="", verification_url="")
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(pdf_of(document, draft=True))).pages]
    assert all("Draft, not signed" in page for page in pages)
    assert "no number yet" in pages[0]
    assert "nothing was signed, and it certifies nothing" in " ".join(pages[-1].split())
    assert "Signed electronically" not in pages[-1]
    assert "Draft" not in text()


def test_a_sign_that_the_type_lacks_is_refused_by_name() -> None:
    document = samples.document()
    strange = replace(document, item=replace(document.item, maker="工具 A"))
    with pytest.raises(SignNotInType) as refused:
        require_printable(strange)
    assert refused.value.data["text"] == "工具 A"
    assert "U+5177" in str(refused.value)
    require_printable(document)


def test_texts_from_people_stay_texts() -> None:
    document = samples.document()
    sly = replace(
        document,
        laboratory=replace(document.laboratory, name='Lab "A" \\ <b>; } /* x'),
        remarks=("<script>alert(1)</script> {{ number }}",),
    )
    pages = PdfReader(io.BytesIO(pdf_of(sly))).pages
    said = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert said.count('Lab "A" \\ <b>; } /* x') >= 3  # on the first page's head and in the others' margins
    assert "<script>alert(1)</script> {{ number }}" in said
