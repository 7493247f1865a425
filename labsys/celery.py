"""The Celery app: the alarm clock. It wakes sweeps; the database is the queue of record.

An app's ``tasks.py`` index may hold ``SCHEDULE`` (name to task and interval); it is read here, so a topic's clock
stands with its topic.
"""

from __future__ import annotations

import os
import signal
from importlib import import_module
from typing import Any

from celery import Celery
from celery.signals import beat_embedded_init, beat_init, import_modules, setup_logging
from django.conf import settings

from labsys.lineage import end_with

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsys.settings")
_IMPORTED_BY = os.getpid()
app = Celery("labsys")
app.conf.update(settings.CELERY)
app.autodiscover_tasks()


@setup_logging.connect
def _keep_our_logging(**_: Any) -> None:
    """Leave logging as settings.py made it; Celery's own set-up would replace it."""


@import_modules.connect
def _collect_schedules(sender: Celery, **_: Any) -> None:
    """Give the clock what the topics ask for, once worker or clock has imported every task.

    Not when the app is finalised: the first index that names a task finalises it while it is itself half imported.
    """
    collected: dict[str, dict[str, Any]] = {}
    for name in settings.OWN_APPS:
        collected.update(import_module(f"{name}.tasks").SCHEDULE)
    sender.conf.beat_schedule = collected


@beat_init.connect
def _wake_everything(**_: Any) -> None:
    """Wake every sweep once when the clock starts, because it can't know for how long it stood."""
    for entry in app.conf.beat_schedule.values():
        app.send_task(entry["task"])


@beat_embedded_init.connect
def _end_with_the_worker(**_: Any) -> None:
    """Let the clock inside a worker end when the worker is killed; left alone it would go on waking nobody."""
    if os.getpid() != _IMPORTED_BY:
        # Not getppid(): a worker killed just now has already been replaced as the parent.
        end_with(_IMPORTED_BY, signal.SIGKILL)
