"""The demo laboratory in the embedded database: is it there, put it there, put it back to its beginning."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

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
    mark = Path(settings.VAR) / MARK
    mark.write_text("This folder holds the demo laboratory; manage.py demo --fresh may empty it.\n")
    lab.load(now=timezone.now())


def clear() -> None:
    """Remove the demo's database, files and mails; raises NotTheDemo where the records are somebody's own."""
    connection.close()
    clear_folder(settings.VAR, settings.DATABASES["default"])


def clear_folder(var: Path, database: Mapping[str, Any]) -> None:
    """Empty the folder of a demo whose ``database`` Django describes so; raises NotTheDemo."""
    if not database["ENGINE"].endswith("sqlite3"):
        raise NotTheDemo(found=f"the database {database['NAME']} on a server")
    records = Path(database["NAME"])
    if records.exists() and not ((var / MARK).exists() and records.parent == var):
        raise NotTheDemo(found=str(records))
    for path in var.glob(f"{records.name}*"):
        path.unlink()
    for folder in ("files", "mail", "broker", "clock"):
        shutil.rmtree(var / folder, ignore_errors=True)
        (var / folder).mkdir()
    (var / MARK).unlink(missing_ok=True)
