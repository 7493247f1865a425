"""Tables: order and columns from the address, counts that stop, pages that don't jump, files that stay harmless."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.http import StreamingHttpResponse
from django.template import Context, Template
from django.test import RequestFactory
from hypothesis import given
from hypothesis import strategies as st

from labsys.pages import export, keyset, tables
from labsys.pages.tables import Column, Count, Order

COLUMNS = [
    Column("tag", "Tag", sort=("tag", "pk"), row_head=True),
    Column("due", "Due", sort=("due_on", "pk"), nowrap=True),
    Column("error", "Error", number=True),
]


def ask(query: str) -> Any:
    request = RequestFactory().get(f"/gauges/{query}")
    request.session = {}  # type: ignore[assignment]
    return request


@pytest.mark.parametrize(
    ("query", "order"),
    [
        ("", Order("due")),
        ("?order=-due", Order("due", True)),
        ("?order=tag", Order("tag")),
        ("?order=error", Order("due")),
        ("?order=password", Order("due")),
    ],
)
def test_order(query: str, order: Order) -> None:
    assert tables.order_from(ask(query), COLUMNS, default="due") == order


def test_a_descending_order_turns_every_field() -> None:
    assert Order("due", True).fields(COLUMNS) == ("-due_on", "-pk")
    assert Order("due").fields(COLUMNS) == ("due_on", "pk")


def test_chosen_columns_are_kept_and_the_row_s_head_stays() -> None:
    def keys(request: Any) -> list[str]:
        found = tables.chosen_columns(request, COLUMNS, table="gauges", default=["due", "error"])
        return [column.key for column in found]

    request = ask("?columns=&columns=error")
    assert keys(request) == ["tag", "error"]
    later = ask("")
    assert keys(later) == ["tag", "due", "error"]
    later.session = request.session
    assert keys(later) == ["tag", "error"]
    later.GET = ask("?columns=").GET
    assert keys(later) == ["tag"]


def render(text: str, **context: Any) -> str:
    return Template("{% load tables %}" + text).render(Context(context))


def test_sort_heads_keep_the_filter_and_say_the_direction() -> None:
    request = ask("?place=store&order=due&page=abc")
    text = render("{% sort_head c o %}", c=COLUMNS[1], o=Order("due"), request=request)
    assert 'aria-sort="ascending"' in text
    assert "place=store" in text
    assert "order=-due" in text
    assert "page=" not in text
    assert "<a" not in render("{% sort_head c o %}", c=COLUMNS[2], o=Order("due"), request=request)


def test_table_markup() -> None:
    rows = [tables.Row(pk=7, name="CAL-1", cells={"tag": "CAL-1", "due": "2026-11-25", "error": "<b>"})]
    shown = tables.Table(caption="Gauges", columns=COLUMNS, rows=rows, order=Order("tag"), bulk=True)
    text = render("{% table t %}", t=shown, request=ask(""))
    assert '<th scope="row">CAL-1</th>' in text
    assert '<td class="number">&lt;b&gt;</td>' in text
    assert 'name="selected" value="7" aria-label="Choose CAL-1"' in text
    assert "<caption>Gauges</caption>" in text


def test_choosing_columns_keeps_the_rest_of_the_address() -> None:
    shown = tables.Table(caption="Gauges", columns=COLUMNS[:2], rows=[], offered=COLUMNS)
    text = render("{% columns_choice t %}", t=shown, request=ask("?place=store&page=x&columns=due"))
    assert '<input type="hidden" name="place" value="store">' in text
    assert 'name="page"' not in text
    assert 'value="due" checked' in text
    assert 'value="error">' in text


# The roles that a fresh database brings are groups too.
OWN = Group.objects.filter(name__regex=r"^(g\d\d|a new one in front)$")


def test_counts_read_well() -> None:
    assert str(Count(412)) == "412"
    assert str(Count(1000, is_capped=True)) == "1,000+"


@pytest.mark.django_db
def test_counting_stops_at_the_cap() -> None:
    Group.objects.bulk_create(Group(name=f"g{number:02}") for number in range(12))
    assert tables.capped_count(OWN.all(), cap=10) == Count(10, is_capped=True)
    assert tables.capped_count(OWN.all(), cap=12) == Count(12)
    assert tables.capped_count(OWN.filter(name="g01"), cap=10) == Count(1)


@pytest.mark.django_db
@pytest.mark.parametrize("order", [("name", "pk"), ("-name", "-pk"), ("-name", "pk"), ("pk",)])
def test_walking_forth_and_back_sees_every_row_once(order: tuple[str, ...]) -> None:
    Group.objects.bulk_create(Group(name=f"g{number:02}") for number in range(23))
    everything = list(OWN.order_by(*order))
    seen, page = [], keyset.page(OWN.all(), order=order, size=5)
    assert page.before == ""
    while True:
        seen.append(page.rows)
        if not page.after:
            break
        page = keyset.page(OWN.all(), order=order, token=page.after, size=5)
    assert [row for rows in seen for row in rows] == everything
    back = [page.rows]
    while page.before:
        page = keyset.page(OWN.all(), order=order, token=page.before, size=5)
        back.append(page.rows)
    assert [row for rows in reversed(back) for row in rows] == everything


@pytest.mark.django_db
def test_a_new_row_before_moves_nothing() -> None:
    Group.objects.bulk_create(Group(name=f"g{number:02}") for number in range(10))
    first = keyset.page(OWN.all(), order=("name", "pk"), size=5)
    Group.objects.create(name="a new one in front")
    second = keyset.page(OWN.all(), order=("name", "pk"), token=first.after, size=5)
    assert [group.name for group in second.rows] == [f"g{number:02}" for number in range(5, 10)]


@pytest.mark.django_db
@pytest.mark.parametrize("token", ["x", "////", "WzFd", "bnVsbA", "W10", "WyJhIiwieCIsIm5vIG51bWJlciJd"])
def test_a_false_token_is_refused_by_name(token: str) -> None:
    with pytest.raises(keyset.StrangePage):
        keyset.page(OWN.all(), order=("name", "pk"), token=token)


def test_the_condition_carries_the_redundant_bound() -> None:
    """Without it one of the two engines reads the index from its start (measured at a million rows)."""
    condition = str(keyset.beyond(("-due_on", "pk"), (date(2026, 11, 25), 7)))
    assert "'due_on__lte'" in condition
    assert "'pk__gt', 7" in condition


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        ("=1+1", "'=1+1"),
        ("@sum", "'@sum"),
        ("+cmd|x", "'+cmd|x"),
        ("-0.012", "-0.012"),
        ("+0.012", "+0.012"),
        ("−0.012", "−0.012"),
        (Decimal("0.010"), "0.010"),
        (Decimal("1E-7"), "0.0000001"),
        (None, ""),
        (date(2026, 11, 25), "2026-11-25"),
        (datetime(2026, 11, 25, 6, 43, tzinfo=UTC), "2026-11-25T06:43:00+00:00"),
    ],
)
def test_cells_are_harmless_and_lose_no_step(cell: Any, text: str) -> None:
    assert export.harmless(cell) == text


@given(st.text())
def test_no_cell_starts_a_formula(text: str) -> None:
    found = export.harmless(text)
    assert found[:1] not in ("=", "@", "\t", "\r")
    assert found == text or found == f"'{text}"


def test_csv_is_what_is_shown() -> None:
    rows = [("CAL-1", Decimal("0.010")), ("=evil", None)]
    response = export.answer("gauges", headings=["Tag", "Error"], rows=rows, kind="csv")
    assert isinstance(response, StreamingHttpResponse)
    text = b"".join(response.streaming_content).decode("utf-8-sig")  # type: ignore[arg-type]
    assert list(csv.reader(io.StringIO(text))) == [["Tag", "Error"], ["CAL-1", "0.010"], ["'=evil", ""]]
    assert response["Content-Disposition"] == 'attachment; filename="gauges.csv"'


def test_xlsx_keeps_the_zeros() -> None:
    import tablib

    response = export.answer(
        "gauges", headings=["Tag", "Error"], rows=[("CAL-1", Decimal("0.010"))], kind="xlsx"
    )
    data = tablib.Dataset().load(response.content, format="xlsx")  # type: ignore[attr-defined]
    assert data.headers == ["Tag", "Error"]
    assert data[0] == ("CAL-1", "0.010")


def test_another_format_is_refused() -> None:
    with pytest.raises(export.UnknownFormat, match="pdf"):
        export.answer("gauges", headings=[], rows=[], kind="pdf")
