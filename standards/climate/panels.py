"""What the log puts onto the page of a thermometer: the newest reading, and the way to the log."""

from __future__ import annotations

from standards.climate.queries import last_logged
from standards.register import panels
from standards.register.models import Standard


def log(asked: panels.Asked) -> panels.Panel | None:
    """Show the newest reading of a thermometer; nothing for other standards."""
    if asked.standard.kind != Standard.Kind.THERMOMETER:
        return None
    context = {"standard": asked.standard, "last": last_logged(asked.standard)}
    return panels.Panel("log", "Log of the room", "standards/climate/panel.html", context)


def register() -> None:
    """Put it in its place; called once, at start."""
    panels.register(slug="log", provider=log, order=20)
