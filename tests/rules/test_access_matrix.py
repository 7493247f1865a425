"""Who is let in where: every address of the program against every role, as access_matrix.txt says it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from zeal import zeal_ignore

from labsys.accounts.models import Person
from labsys.journal.roles import Role
from labsys.pages import places, sections
from tests.labsys.conftest import person, signed_in  # noqa: F401 - fixtures

pytestmark = pytest.mark.django_db

LETTERS = dict(
    zip("MTRFAD", ("manager", "technician", "reviewer", "floor", "auditor", "administrator"), strict=True)
)
# Takes envelopes from tablets without a cookie, so no other site can act in somebody's name there.
WITHOUT_COOKIE = {"bench-deposit"}
# Looks codes up for anybody, whatever the method, and has no act.
ONLY_READS = {"certificate-verify"}
_LINE = re.compile(r"(?P<name>[\w-]+) +(?P<nobody>\d{3}) (?P<roles>[MTRFAD.]{6}) (?P<let_in>\d{3})")
_PARTS = {
    r"<int:\w+>": "987654",
    r"<(slug|str|path):\w+>": "nowhere",
    r"\(\?P<uidb36>[^)]*\)-\(\?P<key>[^)]*\)": "1-abc",
    r"[\^$]": "",
}


@dataclass(frozen=True)
class Line:
    """What the table says of one address."""

    name: str
    nobody: int
    roles: frozenset[str]
    let_in: int


def table() -> dict[str, Line]:
    """Read the table; a name that stands twice is an error."""
    found: dict[str, Line] = {}
    text = (Path(__file__).parent / "access_matrix.txt").read_text()
    for match in map(_LINE.fullmatch, text.splitlines()):
        if match:
            roles = frozenset(LETTERS[letter] for letter in match["roles"] if letter != ".")
            assert match["name"] not in found, f"{match['name']} stands twice in the table"
            found[match["name"]] = Line(match["name"], int(match["nobody"]), roles, int(match["let_in"]))
    return found


def addresses(resolver: URLResolver | None = None, before: str = "") -> Iterator[tuple[str, str]]:
    """List every address of the program as (name, address), with records that don't exist."""
    for entry in (resolver or get_resolver()).url_patterns:
        route = before + str(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from addresses(entry, route)
        elif isinstance(entry, URLPattern):
            for part, value in _PARTS.items():
                route = re.sub(part, value, route)
            yield str(entry.name), f"/{route}"


def listed() -> list[tuple[str, str]]:
    """List the addresses that stand in the table; those missing are one test's matter, not every one's."""
    known = table()
    return [(name, address) for name, address in addresses() if name in known]


def answer(client: Client, method: str, address: str) -> int:
    with zeal_ignore():
        response: Any = getattr(client, method)(address)
    return int(response.status_code)


def test_every_address_has_its_line_and_every_line_its_address() -> None:
    real = [name for name, _ in addresses()]
    assert "None" not in real, "every address has a name"
    assert len(real) == len(set(real)), "no name leads to two addresses"
    assert sorted(set(real) - set(table())) == [], "addresses without a line: say who is let in"
    assert sorted(set(table()) - set(real)) == [], "lines without an address"


def test_no_address_in_the_trial_is_left_unfilled() -> None:
    assert [address for _, address in addresses() if re.search(r"[<>()\\?]", address)] == []


@pytest.mark.parametrize("role", [role.value for role in Role])
def test_a_role_is_let_in_where_the_table_says(role: str, signed_in: Callable[[str], Client]) -> None:  # noqa: F811
    client, lines, wrong = signed_in(role), table(), []
    client.raise_request_exception = False
    for name, address in listed():
        expected = lines[name].let_in if role in lines[name].roles else 403
        found = answer(client, "get", address)
        if found != expected:
            wrong.append(f"{name} ({address}): {found}, not {expected}")
    assert wrong == []


@pytest.mark.parametrize("role", [role.value for role in Role])
def test_a_role_acts_nowhere_it_may_not_look(role: str, signed_in: Callable[[str], Client]) -> None:  # noqa: F811
    client, lines = signed_in(role), table()
    client.raise_request_exception = False
    found = {
        name: answer(client, "post", address) for name, address in listed() if role not in lines[name].roles
    }
    assert {name: status for name, status in found.items() if status != 403} == {}


def test_nobody_gets_further_than_the_table_says(db: None) -> None:
    client, lines, wrong = Client(raise_request_exception=False), table(), []
    for name, address in listed():
        with zeal_ignore():
            response = client.get(address)
        expected = lines[name].nobody
        if response.status_code != expected:
            wrong.append(f"{name} ({address}): {response.status_code}, not {expected}")
        elif expected == 302 and not address.startswith("/account/"):
            leads_to = response.headers["Location"]
            wrong += [] if leads_to.startswith(reverse("account_login")) else [f"{name} leads to {leads_to}"]
    assert wrong == []


def test_nobody_acts_without_signing_in(db: None) -> None:
    client, lines = Client(raise_request_exception=False), table()
    guarded = [(name, address) for name, address in listed() if lines[name].nobody in (302, 401)]
    assert len(guarded) > 150
    found = {name: answer(client, "post", address) for name, address in guarded}
    assert {name: status for name, status in found.items() if status not in (302, 401)} == {}


def test_no_other_site_acts_in_somebodys_name(person: Callable[[str], Person]) -> None:  # noqa: F811
    """Every act wants the token that only our own pages hold."""
    client = Client(enforce_csrf_checks=True, raise_request_exception=False)
    client.force_login(person("manager"))
    lines = table()
    open_to = [
        (name, address)
        for name, address in listed()
        if "manager" in lines[name].roles
        and not address.startswith("/api/")
        and name not in WITHOUT_COOKIE | ONLY_READS
    ]
    found = {name: answer(client, "post", address) for name, address in open_to}
    assert {name: status for name, status in found.items() if status not in (403, 405)} == {}


@pytest.mark.parametrize("role", [role.value for role in Role])
def test_what_is_offered_opens(role: str, signed_in: Callable[[str], Client]) -> None:  # noqa: F811
    """Places in the header, sections of the Lab, links under the name: none leads to a refusal."""
    client = signed_in(role)
    page = client.get(reverse("account"))
    request = page.wsgi_request
    offered = [place.url for place in places.offers(request)]
    offered += [one.url for group in sections.of_place("Lab", request).values() for one in group]
    offered += [entry.url for entry in page.context["person_menu"]]
    assert len(offered) >= 4
    assert {url: status for url in offered if (status := answer(client, "get", url)) != 200} == {}
