"""First pages and search in their corners: who finds people, what is cut and says so, what a page costs.

That everybody begins at their own page, and finds what they hold in hand, stands in the journeys.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from instruments.desk.finding import MOST, find
from instruments.inventory.models import Gauge
from labsys.accounts.models import Person

MakeGauge = Callable[..., Gauge]
SignedIn = Callable[[str], Client]


def searched(client: Client, text: str) -> str:
    return client.get(reverse("search"), {"q": text}).content.decode()


@pytest.mark.parametrize("role", ["manager", "administrator"])
def test_who_manages_people_finds_them_by_name_and_user_name(
    role: str, person: Callable[[str], Person], signed_in: SignedIn
) -> None:
    sought = person("floor")
    for text in ("THE FLOOR", "floor"):
        assert reverse("person", args=[sought.pk]) in searched(signed_in(role), text)


@pytest.mark.parametrize("role", ["technician", "reviewer", "auditor"])
def test_nobody_else_is_given_people(role: str, person: Callable[[str], Person], signed_in: SignedIn) -> None:
    sought = person("floor")
    page = searched(signed_in(role), "the floor")
    assert reverse("person", args=[sought.pk]) not in page
    assert "Nothing carries" in page


def test_a_closed_account_is_found_and_called_closed(person: Callable[[str], Person], db: None) -> None:
    sought = person("floor")
    sought.is_active = False
    sought.save()
    ((found,),) = [group.items for group in find("the floor", with_people=True)]
    assert found.says == "user name floor, closed"


def test_a_group_is_cut_at_twenty_and_says_so(make_gauge: MakeGauge, signed_in: SignedIn) -> None:
    for number in range(MOST):
        make_gauge(f"CAL-{number:04}", serial=f"S-{number}")
    assert "Only the first" not in searched(signed_in("auditor"), "CAL-")
    make_gauge(f"CAL-{MOST:04}", serial=f"S-{MOST}")
    (group,) = find("CAL-", with_people=False)
    assert (len(group.items), group.is_cut) == (20, True)
    page = searched(signed_in("auditor"), "CAL-")
    assert "Only the first 20 are shown." in page
    assert "CAL-0019" in page
    assert "CAL-0020" not in page


def test_blanks_are_no_question(gauge: Gauge, signed_in: SignedIn) -> None:
    page = searched(signed_in("auditor"), "   ")
    assert str(gauge) not in page
    assert "Nothing carries" not in page


def test_what_was_typed_is_shown_as_text(db: None, signed_in: SignedIn) -> None:
    page = searched(signed_in("auditor"), "<b>x</b>")
    assert "Nothing carries “&lt;b&gt;x&lt;/b&gt;”" in page
    assert "<b>x</b>" not in page


def test_what_a_search_costs_does_not_grow_with_the_records(
    make_gauge: MakeGauge, person: Callable[[str], Person], django_assert_num_queries: Any
) -> None:
    person("floor")
    make_gauge("THE-0", serial="S-0")
    with CaptureQueriesContext(connection) as few:
        find("the", with_people=True)
    for number in range(1, 6):
        make_gauge(f"THE-{number}", serial=f"S-{number}")
    with django_assert_num_queries(len(few)):
        assert [group.title for group in find("the", with_people=True)] == ["Gauges", "People"]


def test_what_reads_exactly_so_comes_first(make_gauge: MakeGauge) -> None:
    for tag in ("XA-1", "A-10", "A-1"):
        make_gauge(tag, serial=f"of {tag}")
    (group,) = find("a-1", with_people=False)
    assert [item.name for item in group.items] == ["A-1", "A-10", "XA-1"]


def test_on_a_phone_the_standing_of_ones_gauges_stands_beside_the_tag(
    make_gauge: MakeGauge, person: Callable[[str], Person], signed_in: SignedIn
) -> None:
    """What is wide comes last, or the standing lies outside the screen."""
    gauge = make_gauge()
    Gauge.objects.filter(pk=gauge.pk).update(custodian=person("floor"))
    page = signed_in("floor").get(reverse("own-gauges")).content.decode()
    row = page[page.index("<tbody>") :]
    assert row.index(str(gauge)) < row.index("do not use") < row.index(str(gauge.model))
