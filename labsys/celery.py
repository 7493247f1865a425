"""The Celery app: the alarm clock. It wakes sweeps; the database is the queue of record.

An app's ``tasks.py`` index may hold ``SCHEDULE`` (name to task and interval); it is read here, so a topic's clock
stands with its topic.
"""

from __future__ import annotations

import os
from importlib import import_module
from typing import Any

import django.apps
from celery import Celery
from celery.signals import setup_logging
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsys.settings")
app = Celery("labsys")
app.conf.update(settings.CELERY)
app.autodiscover_tasks()


@setup_logging.connect
def _keep_our_logging(**_: Any) -> None:
    """Leave logging as settings.py made it; Celery's own set-up would replace it."""


@app.on_after_finalize.connect
def _collect_schedules(sender: Celery, **_: Any) -> None:
    for config in django.apps.apps.get_app_configs():
        tasks = f"{config.name}.tasks"
        if config.name.split(".")[0] in settings.OWN_APPS:
            sender.conf.beat_schedule.update(getattr(import_module(tasks), "SCHEDULE", {}))
