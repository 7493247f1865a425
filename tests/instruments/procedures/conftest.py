"""A laboratory whose caliper procedure is in force at revision 1, and a way to draft the next."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from instruments.procedures.content import Content, dump
from instruments.procedures.models import Revision
from instruments.procedures.operations import draft_revision
from labsys.accounts.models import Person
from tests import laboratory
from tests.laboratory import Lab

NOW = datetime(2025, 3, 4, 9, 0, tzinfo=UTC)
"""Two months after the laboratory was set up."""


@pytest.fixture(autouse=True)
def _zone(settings: Any) -> None:
    settings.LAB_ZONE = "UTC"


@pytest.fixture
def lab(db: None) -> Lab:
    return laboratory.build()


@pytest.fixture
def draft(lab: Lab) -> Callable[..., Revision]:
    """Draft the next revision: the shipped content with a few parts replaced, by the technician unless told."""

    def make(by: Person | None = None, content: Content | None = None, **changes: Any) -> Revision:
        wanted = content or laboratory.shipped(**(changes or {"repeats": 3}))
        return draft_revision(
            procedure=lab.revision.procedure,
            content_text=dump(wanted),
            change="three readings at each point, for a spread",
            by=by or lab.technician,
            now=NOW,
        )

    return make
