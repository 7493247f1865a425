"""Asks every kind of record for a text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from django.db.models import Model

from instruments.certificates.queries import certificates
from instruments.desk.finding import saying
from instruments.desk.finding.matching import MOST, picked
from instruments.desk.finding.shapes import Found, Group
from instruments.inventory.queries import gauges
from instruments.recall.models import OutsideCertificate
from labsys.accounts.queries import people
from standards.register.models import Standard
from standards.traceability.queries import certificates as received

Row = TypeVar("Row", bound=Model)


def find(text: str, *, with_people: bool) -> tuple[Group, ...]:
    """Find what carries a text, kind by kind, the best first; the number of queries doesn't grow with the records.

    ``with_people`` also finds people by name and user name, which is for those who manage them.
    """
    text = text.strip()
    if not text:
        return ()
    outside = OutsideCertificate.objects.select_related("gauge__tag")
    of_gauges = picked(certificates(), text, "number", "session__gauge__tag__text")
    groups = [
        _group("Gauges", picked(gauges(), text, "tag__text", "serial"), saying.gauge),
        _standards(text),
        _group("Certificates", of_gauges, saying.certificate),
        _group("Certificates received for standards", picked(received(), text, "number"), saying.received),
        _group("Certificates of outside laboratories", picked(outside, text, "number"), saying.outside),
    ]
    if with_people:
        groups.append(_group("People", picked(people(), text, "name", "username"), saying.person))
    return tuple(group for group in groups if group.items)


def _group(title: str, rows: Sequence[Row], say: Callable[[Row], Found]) -> Group:
    return Group(title, tuple(say(row) for row in rows[:MOST]), len(rows) > MOST)


def _standards(text: str) -> Group:
    rows = picked(Standard.objects.select_related("tag"), text, "tag__text", "serial", "name")
    chains = saying.newest_accepted(rows[:MOST])
    return _group("Standards", rows, lambda row: saying.standard(row, chains.get(row.pk)))
