"""The columns of the journal: how an entry looks in the list, and what a file says of it."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.urls import reverse
from django.utils.html import format_html

from labsys.journal.door import canonical
from labsys.journal.models import JournalEntry
from labsys.journal.subjects import Shown
from labsys.journal.words import act_words, in_short
from labsys.pages.figures import when
from labsys.pages.tables import Column

COLUMNS = (
    Column("entry", "Entry", row_head=True, nowrap=True),
    Column("when", "When", nowrap=True),
    Column("who", "Who"),
    Column("what", "What"),
    Column("about", "About"),
    Column("says", "Why, and what changed"),
)

FILE_HEADINGS = (
    *("Entry", "At", "Recorded at", "Who", "Name", "Role", "Act", "Subject", "Outcome", "Reason"),
    *("Before", "After", "Request", "Hash before", "Hash", "Text that was hashed"),
)


def cells(entry: JournalEntry, subject: Shown) -> dict[str, Any]:
    """Give the cells of an entry as the page shows them."""
    refused = entry.outcome == JournalEntry.Outcome.REFUSED
    return {
        "entry": format_html(
            '<a href="{}">{}</a>', reverse("journal-entry", args=[entry.pk]), entry.sequence
        ),
        "when": when(entry.at, zone=ZoneInfo(settings.LAB_ZONE)),
        "who": format_html('{} <span class="quiet">{}</span>', entry.actor_name, entry.actor_role),
        "what": format_html(
            '{} <span class="flag">refused</span>' if refused else "{}", act_words(entry.act)
        ),
        "about": linked(subject),
        "says": format_html(
            '<span class="said">{} <span class="quiet">{}</span></span>',
            entry.reason,
            "" if refused else in_short(entry.before, entry.after),
        ),
    }


def linked(subject: Shown) -> str:
    """Give a subject as a link to its page, or as text where it has none."""
    return format_html('<a href="{}">{}</a>', subject.url, subject.text) if subject.url else subject.text


def file_line(entry: JournalEntry) -> list[Any]:
    """Give what a file says of an entry: everything, so that the chain can be walked without this program."""
    return [
        entry.sequence,
        entry.at.isoformat(),
        entry.recorded_at.isoformat(),
        entry.actor_id,
        entry.actor_name,
        entry.actor_role,
        entry.act,
        entry.subject,
        entry.outcome,
        entry.reason,
        canonical(entry.before) if entry.before is not None else "",
        canonical(entry.after) if entry.after is not None else "",
        entry.request_id,
        entry.previous_hash,
        entry.hash,
        entry.canonical,
    ]
