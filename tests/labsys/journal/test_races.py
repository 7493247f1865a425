"""Eight people act at once and the chain stays whole."""

from __future__ import annotations

import threading
from datetime import UTC, datetime

import pytest
from django.db import connections

from labsys.journal.door import Actor, act, note
from labsys.journal.models import JournalEntry
from labsys.journal.queries import verify_chain
from labsys.laboratory.models import Place

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


@act("test.add")
def add(*, name: str, by: Actor, now: datetime) -> None:
    place = Place.objects.create(name=name)
    note(f"place:{place.pk}", after={"name": name})


@pytest.mark.django_db(transaction=True)
def test_eight_at_once_make_one_chain_without_gaps() -> None:
    people, each = 8, 12
    ready = threading.Barrier(people)
    done: list[int] = []

    def work(person: int) -> None:
        try:
            ready.wait()
            for n in range(each):
                add(name=f"{person}-{n}", by=Actor(f"person:{person}", "x", "x"), now=NOW)
            done.append(person)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=work, args=(person,)) for person in range(people)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(done) == list(range(people))
    report = verify_chain()
    assert (report.entries, report.fault) == (people * each, None)
    assert JournalEntry.objects.count() == Place.objects.count() == people * each
