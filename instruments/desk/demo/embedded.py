"""The demo laboratory in the embedded database: is it there, put it there, put it back to its beginning."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import ClassVar

from django.conf import settings
from django.db import connection
from django.utils import timezone

from instruments.desk.demo import lab
from labsys.accounts.models import Person
from labsys.errors import LabError

MARK = "demo-laboratory"


class NotTheDemo(LabError):
    """The records here were not made by the demo, so they are not the demo's to remove."""

    code: ClassVar[str] = "not-the-demo"
    sentence: ClassVar[str] = (
        "--fresh removes the demo laboratory alone, and {found} was not made by the demo. "
        "Choose another folder with LABSYS_VAR, or start without --fresh."
    )


def is_empty() -> bool:
    """Tell whether nobody has worked in this database yet."""
    return not Person.objects.exists()


def load() -> None:
    """Build the demo laboratory up to this moment and mark the folder as the demo's."""
    # Marked first: a load that dies halfway leaves something that --fresh may clear.
    _mark().write_text("This folder holds the demo laboratory; manage.py demo --fresh may empty it.\n")
    lab.load(now=timezone.now())


def clear() -> None:
    """Remove the demo's database, files and mails; raises NotTheDemo where the records are somebody's own."""
    if connection.vendor != "sqlite":
        raise NotTheDemo(found=f"a database on {settings.DATABASES['default']['HOST'] or 'a server'}")
    database = Path(settings.DATABASES["default"]["NAME"])
    if database.exists() and not (_mark().exists() and database.parent == settings.VAR):
        raise NotTheDemo(found=str(database))
    connection.close()
    for path in settings.VAR.glob(f"{database.name}*"):
        path.unlink()
    for folder in ("files", "mail", "broker", "clock"):
        shutil.rmtree(settings.VAR / folder, ignore_errors=True)
        (settings.VAR / folder).mkdir()
    _mark().unlink(missing_ok=True)


def _mark() -> Path:
    return Path(settings.VAR) / MARK
