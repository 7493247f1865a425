"""A list that goes out comes back in: export, import, preview, one act for all."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import openpyxl  # type: ignore[import-untyped]
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from instruments.inventory.forms.sheets import SheetTooLarge, SheetUnreadable, read_sheet
from instruments.inventory.models import Gauge, GaugeImport
from instruments.inventory.operations.rows import HEADINGS
from instruments.inventory.queries import describe
from labsys.accounts.models import Person
from labsys.pages.export import harmless

ALL = "&".join(f"columns={name}" for name in HEADINGS)


@pytest.fixture
def client(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("technician")


def exported(client: Client, kind: str) -> bytes:
    answer: Any = client.get(f"{reverse('gauges')}?{ALL}&as={kind}")
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def bring(client: Client, name: str, content: bytes) -> Any:
    return client.post(reverse("gauge-sheets"), {"file": SimpleUploadedFile(name, content)}, follow=True)


def retagged(content: bytes, kind: str) -> bytes:
    """Give every gauge of an exported file another tag and change nothing else: a tag is given out once."""
    if kind == "csv":
        return content.replace(b"CAL-", b"NEW-")
    book = openpyxl.load_workbook(io.BytesIO(content))
    for (cell,) in book.active.iter_rows(min_row=2, max_col=1):
        cell.value = cell.value.replace("CAL-", "NEW-")
    changed = io.BytesIO()
    book.save(changed)
    return changed.getvalue()


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_what_goes_out_comes_back_the_same(
    kind: str, client: Client, make_gauge: Callable[..., Gauge], person: Callable[[str], Person]
) -> None:
    make_gauge("CAL-1", serial="0007", note="=1+1 „quoted“, with; separators\nand lines")
    make_gauge("CAL-2", functions=("depth", "outside"), custodian=person("floor"), check_before_use=True)
    make_gauge("CAL-3", owner="customer", owner_name="Plant north", serial="-5")
    make_gauge("CAL-4", calibration_needed=False, no_calibration_reason="indication only")
    before = [describe(gauge) for gauge in Gauge.objects.order_by("tag__text")]
    content = retagged(exported(client, kind), kind)
    shown = bring(client, f"gauges.{kind}", content)
    assert "All of them can be registered" in shown.content.decode()
    done = client.post(shown.redirect_chain[-1][0], {"reason": "brought back"}, follow=True)
    assert "4 gauges are registered" in done.content.decode()
    again = [
        describe(gauge) for gauge in Gauge.objects.filter(tag__text__startswith="NEW").order_by("tag__text")
    ]
    assert again == [{**one, "tag": one["tag"].replace("CAL-", "NEW-")} for one in before]


def test_faults_are_shown_by_row_and_nothing_is_registered(client: Client, gauge: Gauge) -> None:
    head = "Tag;Model;Serial;Department;Place;Extra\n"
    content = head + "CAL-0001;Plant stores D150;1;TURN;Lathe 4;x\nCAL-5;Nobody;2;TURN;Lathe 4;\n"
    shown = bring(client, "gauges.csv", content.encode())
    body = shown.content.decode()
    assert "2 of them can't be registered" in body
    assert "“CAL-0001” is taken" in body and "there is no model “Nobody”" in body
    assert "Columns that aren't read: Extra" in body
    assert "Register all" not in body
    refused = client.post(shown.redirect_chain[-1][0], {"reason": "all the same"})
    assert refused.status_code == 422
    assert "2 of 2 rows can&#x27;t be registered" in refused.content.decode()
    assert Gauge.objects.count() == 1


def test_a_sheet_waits_until_somebody_ends_it(client: Client, gauge: Gauge) -> None:
    content = b"tag,model,serial,department,place\nCAL-9,Plant stores D150,1,TURN,Lathe 4\n"
    bring(client, "stock.csv", content)
    kept = GaugeImport.objects.get()
    assert "Brought and not registered yet" in client.get(reverse("gauge-sheets")).content.decode()
    client.post(reverse("gauge-sheet-discard", args=[kept.pk]))
    assert "Brought and not registered yet" not in client.get(reverse("gauge-sheets")).content.decode()
    assert client.post(reverse("gauge-sheet", args=[kept.pk]), {"reason": "late"}).status_code == 422
    assert client.post(reverse("gauge-sheet-discard", args=[kept.pk])).status_code == 409
    assert not Gauge.objects.filter(tag__text="CAL-9").exists()


def test_the_empty_sheet_names_the_columns(client: Client) -> None:
    answer: Any = client.get(reverse("gauge-sheet-empty", args=["csv"]))
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    assert text.strip().split(",") == [f'"{one}"' if "," in one else one for one in HEADINGS.values()]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "submitted file is empty"),
        (b"\n \n", "nothing in it"),
        (b"\x00\x01\x02", "isn&#x27;t text"),
        (b"PK\x03\x04nonsense", "workbook is damaged"),
        (b"%PDF-1.7 and so on", "has no column “Tag”"),
        (b"Tag,Model,Serial,Department,Place\n", "nothing below them"),
    ],
)
def test_a_file_that_is_no_list_is_refused_in_a_sentence(content: bytes, says: str, client: Client) -> None:
    answer = bring(client, "list.csv", content)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not GaugeImport.objects.exists()


def test_a_file_is_what_it_is_not_what_it_is_called() -> None:
    import tablib

    data = tablib.Dataset(["CAL-1", 7, 7.0, 7.5, True, None], headers=list("abcdef"))
    sheet = read_sheet("list.csv", data.export("xlsx"))
    assert (sheet.columns, sheet.rows) == (tuple("abcdef"), (("CAL-1", "7", "7", "7.5", "yes", ""),))


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_text_comes_with_the_usual_separators_and_encodings(separator: str) -> None:
    text = separator.join(["Tag", "Note"]) + "\r\n" + separator.join(["CAL-1", "Prüfmaß"]) + "\r\n"
    for encoding in ("utf-8", "utf-8-sig", "cp1252"):
        sheet = read_sheet("list", text.encode(encoding))
        assert (sheet.columns, sheet.rows) == (("Tag", "Note"), (("CAL-1", "Prüfmaß"),))


def test_what_unpacks_to_too_much_is_refused() -> None:
    import zipfile

    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("xl/worksheets/sheet1.xml", b"0" * (101 * 2**20))
    with pytest.raises(SheetTooLarge, match="unpacked"):
        read_sheet("bomb.xlsx", packed.getvalue())
    with pytest.raises(SheetTooLarge):
        read_sheet("long.csv", b"x" * (5 * 2**20 + 1))


@settings(max_examples=200, deadline=None)
@given(content=st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    try:
        sheet = read_sheet("any", content)
    except (SheetUnreadable, SheetTooLarge):
        return
    assert sheet.columns and all(isinstance(cell, str) for row in sheet.rows for cell in row)


@given(text=st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=20))
def test_the_mark_against_formulas_comes_off_again(text: str) -> None:
    from instruments.inventory.forms.sheets import _cell

    assert _cell(harmless(text)) == text.strip() or text.strip() != text
