"""What the tests of a module begin with, made once: in a transaction around all of them, and copied for each.

Where one of the tests commits, for other connections to see, none can lie around it; each then makes its own.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import deepcopy
from typing import TypeVar

import pytest
from django.conf import settings
from django.db import transaction
from django.test import override_settings

Made = TypeVar("Made")


@contextmanager
def made_once(
    request: pytest.FixtureRequest, make: Callable[[], Made], *, each: bool = False
) -> Iterator[Callable[[], Made]]:
    """Give a way to begin with what ``make`` makes, for a module's tests; with ``each`` always anew."""
    if each or any(_commits(item) for item in request.session.items if _module(item) is request.module):
        yield make
        return
    request.getfixturevalue("django_db_setup")
    files = request.getfixturevalue("tmp_path_factory").mktemp("files")
    with request.getfixturevalue("django_db_blocker").unblock(), transaction.atomic():
        with override_settings(LAB_ZONE="UTC", MEDIA_ROOT=files):
            made = make()

        def own() -> Made:
            if any(files.iterdir()):
                shutil.copytree(files, settings.MEDIA_ROOT, dirs_exist_ok=True)
            return deepcopy(made)

        yield own
        transaction.set_rollback(True)


def _module(item: pytest.Item) -> object:
    return getattr(item, "module", None)


def _commits(item: pytest.Item) -> bool:
    marker = item.get_closest_marker("django_db")
    fixtures = getattr(item, "fixturenames", ())
    return bool(marker and marker.kwargs.get("transaction")) or "transactional_db" in fixtures
