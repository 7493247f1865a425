"""The pages of procedures in a real Chromium: axe finds nothing, nothing overflows, nothing comes from elsewhere."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from instruments.procedures.models import Revision
from instruments.procedures.shipped import procedure
from tests import laboratory, looking
from tests.laboratory import Lab, shipped

pytestmark = [pytest.mark.browser]


def test_every_page(lab: Lab, draft: Callable[..., Revision], client: Client, chromium_path: str) -> None:
    laboratory.caliper_model(lab)
    laboratory.caliper_model(lab, inch=True)
    row = draft(
        repeats=3, looks=shipped().looks[1:], rule={"kind": "guarded", "view": "calibration", "g": "2"}
    )
    client.force_login(lab.reviewer)
    of_draft = (
        "revision",
        "revision-difference",
        "revision-replace",
        "revision-change-note",
        "revision-approve",
    )
    addresses = [
        reverse("procedures"),
        reverse("procedure-start"),
        reverse("procedure", args=[row.procedure_id]),
        reverse("revision-draft", args=[row.procedure_id]),
        reverse("revision", args=[lab.revision.pk]),
        reverse("revision-retire", args=[lab.revision.pk]),
        *(reverse(name, args=[row.pk]) for name in of_draft),
        reverse("revision-difference", args=[row.pk]) + "?all",
        *(reverse("revision-section", args=[row.pk, section]) for section in ("scope", "points", "windows")),
        *(reverse("revision-item", args=[row.pk, items, 1]) for items in ("looks", "bands", "budget")),
        reverse("revision-item-new", args=[row.pk, "budget"]),
        reverse("revision-item-new", args=[row.pk, "budget"]) + "?kind=abbe",
        "/help/procedures/",
        "/help/procedure-file/",
    ]
    pages = looking.make(client, addresses)
    for section, wrong in (
        ("conditions", {"conditions__soak_minutes": "-1"}),
        ("points", {"points__source": ""}),
    ):
        refused = client.post(reverse("revision-section", args=[row.pk, section]), wrong)
        assert refused.status_code == 422
        pages[f"/refused/{section}/"] = looking.Made.of(refused)
    assert looking.complaints(pages, chromium_path) == []


def test_every_page_of_series(
    draft: Callable[..., Revision], lab: Lab, client: Client, chromium_path: str
) -> None:
    row = draft(content=procedure("outside-micrometer"))
    client.force_login(lab.technician)
    new = reverse("revision-item-new", args=[row.pk, "series"])
    own = "budget-of-flatness_anvil"
    addresses = [
        reverse("revision", args=[row.pk]),
        *(reverse("revision-section", args=[row.pk, section]) for section in ("reading", "points")),
        *(reverse("revision-item", args=[row.pk, "series", index]) for index in (1, 3)),
        new,
        reverse("revision-item", args=[row.pk, own, 1]),
        reverse("revision-item-new", args=[row.pk, own]),
    ]
    pages = looking.make(client, addresses)
    asked = client.post(new, {"act": "show", "lengths__kind": "spread"})
    assert asked.status_code == 200
    pages["/asked/"] = looking.Made.of(asked)
    refused = client.post(new, {"results-0-kind": "span", "lengths__kind": "segments"})
    assert refused.status_code == 422
    pages["/refused/"] = looking.Made.of(refused)
    assert looking.complaints(pages, chromium_path) == []
