"""A laboratory whose caliper procedure is in force at revision 1, and a way to draft the next."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from instruments.procedures.content import Content, dump
from instruments.procedures.models import Procedure, Revision
from instruments.procedures.operations import draft_revision, start_procedure
from labsys.accounts.models import Person
from labsys.laboratory.operations import add_family
from tests import laboratory
from tests.laboratory import SETUP, Lab
from tests.once import made_once

NOW = datetime(2025, 3, 4, 9, 0, tzinfo=UTC)
"""Two months after the laboratory was set up."""


@pytest.fixture(autouse=True)
def _zone(settings: Any) -> None:
    settings.LAB_ZONE = "UTC"


@pytest.fixture(scope="module")
def first_day(request: pytest.FixtureRequest) -> Iterator[Callable[[], Lab]]:
    with made_once(request, laboratory.build) as own:
        yield own


@pytest.fixture
def lab(first_day: Callable[[], Lab], db: None) -> Lab:
    return first_day()


def of_angles(lab: Lab) -> Procedure:
    """Start a procedure of a family that measures angles."""
    family = add_family(
        code="protractor",
        name="Protractor",
        bench_hours=Decimal(1),
        interval_months=24,
        quantity="angle",
        by=SETUP,
        now=NOW,
    )
    return start_procedure(code="PR-PRO", title="Protractors", family=family, by=lab.manager, now=NOW)


@pytest.fixture
def draft(lab: Lab) -> Callable[..., Revision]:
    """Draft the next revision: the shipped content with a few parts replaced, by the technician unless told."""

    def make(by: Person | None = None, content: Content | None = None, **changes: Any) -> Revision:
        wanted = content or laboratory.shipped(**(changes or {"repeats": 3}))
        procedure = lab.revision.procedure if wanted.quantity == "length" else of_angles(lab)
        return draft_revision(
            procedure=procedure,
            content_text=dump(wanted),
            change="three readings at each point, for a spread",
            by=by or lab.technician,
            now=NOW,
        )

    return make
