"""The columns of the list of gauges: what each says in a file, and how it looks on the page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import format_html

from instruments.desk.queries import standing_of
from instruments.inventory.models import Gauge, GaugeState
from instruments.inventory.operations.rows import HEADINGS
from instruments.inventory.queries.limits import plain, range_words
from labsys.pages import figures, standing
from labsys.pages.tables import Column

COLUMNS = (
    Column("tag", HEADINGS["tag"], sort=("tag__text", "pk"), row_head=True, nowrap=True),
    Column("standing", "Standing", nowrap=True),
    Column("why", "Why"),
    Column("due", "Due", sort=("due_key", "pk"), nowrap=True),
    Column("family", "Family", sort=("model__family__name", "pk")),
    Column("model", HEADINGS["model"], sort=("model__maker", "model__designation", "pk")),
    Column("serial", HEADINGS["serial"], sort=("serial", "pk")),
    Column("department", HEADINGS["department"], sort=("department__name", "pk")),
    Column("place", HEADINGS["place"], sort=("place__name", "pk")),
    Column("custodian", HEADINGS["custodian"]),
    Column("state", "State"),
    Column("owner", HEADINGS["owner"], sort=("owner", "pk")),
    Column("owner_name", HEADINGS["owner_name"]),
    Column("functions", HEADINGS["functions"]),
    Column("resolution", "Resolution", number=True),
    Column("unit", "Unit"),
    Column("range", "Range (mm, or °)", number=True, nowrap=True),
    Column("calibration_needed", HEADINGS["calibration_needed"]),
    Column("no_calibration_reason", HEADINGS["no_calibration_reason"]),
    Column("check_before_use", HEADINGS["check_before_use"]),
    Column("note", HEADINGS["note"]),
    Column("registered", "Registered", sort=("registered_at", "pk"), nowrap=True),
)
DEFAULT = ("tag", "standing", "due", "model", "department", "place")

_SAYS: dict[str, Callable[[Gauge, date], Any]] = {
    "tag": lambda gauge, today: gauge.tag.text,
    "standing": lambda gauge, today: standing_of(gauge, today).label,
    "why": lambda gauge, today: standing_of(gauge, today).reason,
    "due": lambda gauge, today: standing_of(gauge, today).due_on,
    "family": lambda gauge, today: gauge.model.family.name,
    "model": lambda gauge, today: str(gauge.model),
    "serial": lambda gauge, today: gauge.serial,
    "department": lambda gauge, today: gauge.department.name,
    "place": lambda gauge, today: gauge.place.name,
    "custodian": lambda gauge, today: gauge.custodian.username if gauge.custodian else "",
    "state": lambda gauge, today: state_label(gauge),
    "owner": lambda gauge, today: gauge.owner,
    "owner_name": lambda gauge, today: gauge.owner_name,
    "functions": lambda gauge, today: "; ".join(name.replace("_", " ") for name in gauge.functions),
    # As text: a spreadsheet that takes 0.010 for a number says 0.01, and the step is lost.
    "resolution": lambda gauge, today: plain(gauge.model.resolution),
    "unit": lambda gauge, today: gauge.model.unit,
    "range": lambda gauge, today: range_words(gauge.model),
    "calibration_needed": lambda gauge, today: yes(gauge.calibration_needed),
    "no_calibration_reason": lambda gauge, today: gauge.no_calibration_reason,
    "check_before_use": lambda gauge, today: yes(gauge.check_before_use),
    "note": lambda gauge, today: gauge.note,
    "registered": lambda gauge, today: gauge.registered_at.date(),
}


def says(column: Column, gauge: Gauge, today: date) -> Any:
    """Give what a cell says, as a file holds it."""
    return _SAYS[column.key](gauge, today)


def looks(column: Column, gauge: Gauge, today: date) -> Any:
    """Give what a cell shows on the page."""
    if column.key == "tag":
        return format_html('<a href="{}">{}</a>', reverse("gauge", args=[gauge.pk]), gauge.tag.text)
    if column.key == "standing":
        return _mark(standing_of(gauge, today).mark)
    said = says(column, gauge, today)
    if column.key in ("due", "registered"):
        return figures.on(said)
    return said


def state_label(gauge: Any) -> str:
    """Give the service state of a listed gauge in words."""
    return GaugeState.State(gauge.state_now).label if gauge.state_now else ""


def yes(value: bool) -> str:
    """Write a truth as people do."""
    return "yes" if value else "no"


def _mark(name: str) -> str:
    found = standing.mark(name)
    return render_to_string(
        "labsys/elements/state.html", {"field": found.field, "shape": found.shape, "word": found.word}
    )
