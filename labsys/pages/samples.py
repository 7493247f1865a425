"""Invented values for the page that shows every element. No gauge, person or result in here exists."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpRequest
from django.template.loader import render_to_string

from labsys.pages.corridor import VERDICTS, CorridorData, Earlier, draw
from labsys.pages.figures import signed
from labsys.pages.keyset import Page
from labsys.pages.palette import PRINT
from labsys.pages.standing import Standing
from labsys.pages.standing import mark as marked
from labsys.pages.tables import Column, Count, Order, Row, Table

D = Decimal

_OUTSIDE = CorridorData(
    label="Outside, 131.4 mm, near the tips",
    error_mm=D("0.012"),
    U_mm=D("0.0062"),
    lower_mm=D("-0.030"),
    upper_mm=D("0.030"),
    acceptance_lower_mm=D("-0.024"),
    acceptance_upper_mm=D("0.024"),
    verdict="in_tolerance",
    step_text="0.01",
)


def _with(error: str, verdict: str | None, **changes: Any) -> CorridorData:
    return replace(_OUTSIDE, error_mm=D(error), verdict=verdict, **changes)


def verdict_corridors() -> list[CorridorData]:
    """Give one corridor for each verdict."""
    errors = {
        "in_tolerance": "0.012",
        "not_accepted": "-0.027",
        "not_decided": "0.029",
        "conditional_inside": "0.026",
        "conditional_outside": "-0.033",
        "out_of_tolerance": "0.047",
    }
    return [_with(errors[verdict], verdict) for verdict in VERDICTS]


def special_corridors() -> list[CorridorData]:
    """Give the corridors that test the drawing: breaks, missing limits, inches, an adjusted gauge."""
    before = Earlier(error_mm=D("0.052"), verdict="out_of_tolerance")
    no_guard: dict[str, Any] = {"acceptance_lower_mm": None, "acceptance_upper_mm": None}
    return [
        _with("0.008", "in_tolerance", label="Adjusted: as found and as left", as_found=before),
        _with("0.412", "out_of_tolerance", label="Far out, beyond the break"),
        _with("0.004", "not_decided", label="An uncertainty wider than the picture", U_mm=D("0.190"), **no_guard),
        _with("-0.310", "out_of_tolerance", label="Far out below, small before", as_found=Earlier(D("-0.021"))),
        _with("0.004", "in_tolerance", label="Flatness, upper limit alone", lower_mm=None, upper_mm=D("0.010"),
              U_mm=D("0.0008"), acceptance_lower_mm=None, acceptance_upper_mm=D("0.0092")),
        _with("0.0119", "in_tolerance", label="Plug, size above nominal", lower_mm=D("0.008"), upper_mm=D("0.014"),
              U_mm=D("0.0011"), acceptance_lower_mm=D("0.0091"), acceptance_upper_mm=D("0.0129"), step_text=""),
        _with("0.0127", "in_tolerance", label="Inch caliper", lower_mm=D("-0.0254"), upper_mm=D("0.0254"),
              unit="in", step_text="0.0005", acceptance_lower_mm=D("-0.0192"), acceptance_upper_mm=D("0.0192")),
        _with("0.003", None, label="No limit agreed", lower_mm=None, upper_mm=None, **no_guard),
    ]  # fmt: skip


class SampleForm(forms.Form):
    """One field of every kind; used on the elements page with and without errors."""

    tag = forms.CharField(label="Tag", help_text="As engraved, such as CAL-0412.")
    serial = forms.CharField(label="Serial number", required=False)
    family = forms.ChoiceField(
        label="Family", choices=[("", "Choose one"), ("caliper", "caliper"), ("ring", "ring gauge")]
    )
    received_on = forms.DateField(label="Received on", widget=forms.DateInput(attrs={"type": "date"}))
    place = forms.ChoiceField(
        label="Condition on arrival",
        choices=[("clean", "clean, complete"), ("dirty", "dirty"), ("damaged", "damaged")],
        widget=forms.RadioSelect,
    )
    functions = forms.MultipleChoiceField(
        label="Functions present",
        choices=[("outside", "outside"), ("inside", "inside"), ("depth", "depth"), ("step", "step")],
        widget=forms.CheckboxSelectMultiple,
        help_text="Only what this gauge has; a missing one is restricted.",
    )
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    confirmed = forms.BooleanField(
        label="The limits were compared with our own copy of the standard",
        help_text="Until then they are marked not confirmed.",
    )


def forms_to_show() -> dict[str, SampleForm]:
    """Give an empty form and one that was refused."""
    wrong = SampleForm({"received_on": "yesterday", "family": "", "note": "Scale dirty."}, prefix="wrong")
    wrong.is_valid()
    return {"form": SampleForm(prefix="empty"), "wrong": wrong}


KEYS = ("7", "8", "9", "⌫", "4", "5", "6", "±", "1", "2", "3", "unit", "0", ".", "Store")

COLUMNS = (
    Column("tag", "Tag", sort=("tag", "pk"), row_head=True),
    Column("model", "Model", sort=("model", "pk")),
    Column("standing", "Standing"),
    Column("due", "Due", sort=("due_on", "pk"), nowrap=True),
    Column("result", "Worst result"),
    Column("error", "Error", sort=("error", "pk"), number=True),
)


def table() -> Table:
    """Give a table with sorting, states, pictures and boxes to tick."""
    standings = list(Standing)
    rows = []
    for number, data in enumerate(verdict_corridors()):
        cells = {
            "tag": f"CAL-{412 + number:04}",
            "model": "caliper 0–150, 0.01",
            "standing": render_to_string(
                "labsys/elements/state.html", vars(marked(standings[number % 3])) | {"large": False}
            ),
            "due": date(2026, 11, 25 + number % 5).isoformat(),
            "result": render_to_string(
                "labsys/elements/corridor.svg",
                {"c": draw(data, box_name="list"), "p": PRINT},
            ),
            "error": signed(data.error_mm),
        }
        rows.append(Row(pk=number, cells=cells, name=cells["tag"]))
    return Table(
        caption="Gauges on the bench",
        columns=COLUMNS,
        rows=rows,
        order=Order("due"),
        bulk=True,
        offered=COLUMNS,
    )


def context(request: HttpRequest) -> dict[str, Any]:
    """Give all that the elements page shows."""
    return {
        "verdict_corridors": verdict_corridors(),
        "special_corridors": special_corridors(),
        "verdicts": [*VERDICTS, None],
        "standings": [standing.value for standing in Standing],
        "error": D("-0.012"),
        "length": D("131.400"),
        "zero": D("0"),
        "day": date(2026, 11, 25),
        "instant": datetime(2026, 11, 25, 6, 43, tzinfo=UTC),
        "table": table(),
        "page": Page(rows=[], before="x", after="y"),
        "count": Count(1000, is_capped=True),
        "keys": KEYS,
        "struck": D("131.36"),
        **forms_to_show(),
    }
