"""Two people act on each other in the same moment."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from django.db import connections

from labsys.accounts.models import Person
from labsys.accounts.operations import NobodyLeft, set_roles
from labsys.accounts.queries import keepers
from labsys.accounts.roles import sync
from labsys.journal.queries import verify_chain
from labsys.journal.roles import NotAllowed, Role
from tests.labsys.conftest import START


@pytest.mark.django_db(transaction=True)
def test_two_who_manage_people_cannot_end_each_other(person: Callable[[str], Person]) -> None:
    sync()  # an emptied database has lost the roles that migrations wrote
    pair = [person("manager"), person("administrator")]
    assert keepers().count() == 2
    ready = threading.Barrier(2)
    outcomes: list[str] = []

    def take_away(by: Person, other: Person) -> None:
        try:
            ready.wait()
            set_roles(person=other, roles=(Role.FLOOR,), reason="mine alone", by=by, now=START)
            outcomes.append("done")
        except (NobodyLeft, NotAllowed) as refusal:
            outcomes.append(refusal.code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=take_away, args=(a, b)) for a, b in (pair, pair[::-1])]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes)[0] == "done" and len(outcomes) == 2
    assert keepers().count() == 1
    assert verify_chain().fault is None
