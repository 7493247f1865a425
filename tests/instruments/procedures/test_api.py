"""Addresses for programs: procedures listed, a revision with its content, a content brought as a draft."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from instruments.procedures.content import dump
from instruments.procedures.content.writing import to_json
from instruments.procedures.models import Revision
from labsys.accounts.models import Person
from labsys.accounts.operations import issue_token
from labsys.journal.door import hash_of
from labsys.journal.models import JournalEntry
from tests import laboratory
from tests.instruments.procedures.conftest import NOW
from tests.laboratory import Lab

LIST = "api-procedures"
DRAFT = "api-procedure-draft"


def of_revision(number: int, code: str = "CAL-1") -> str:
    """Give the address of a revision."""
    return reverse("api-procedure-revision", args=[code, number])


@pytest.fixture
def bearer() -> Callable[[Person], dict[str, str]]:
    def header(person: Person) -> dict[str, str]:
        _, text = issue_token(token_name=f"for {person.username}", by=person, now=NOW)
        return {"Authorization": f"Bearer {text}"}

    return header


def content(**changes: Any) -> dict[str, Any]:
    """Give the shipped content with parts replaced, as data."""
    return to_json(laboratory.shipped(**(changes or {"repeats": 3})))


def send(client: Client, body: dict[str, Any], code: str = "CAL-1", **more: Any) -> Any:
    """Post a body to a procedure's draft."""
    return client.post(reverse(DRAFT, args=[code]), json.dumps(body), content_type="application/json", **more)


def test_the_list_says_what_is_in_force_and_what_is_drafted(
    lab: Lab, draft: Callable[..., Revision], client: Client, bearer: Callable[[Person], dict[str, str]]
) -> None:
    row = draft()
    told = client.get(reverse(LIST), headers=bearer(lab.auditor)).json()
    assert told["count"] == 1
    one = told["results"][0]
    assert (one["code"], one["title"], one["family"]) == ("CAL-1", "Calipers", "caliper")
    assert (one["in_force"]["number"], one["in_force"]["sha256"]) == (1, lab.revision.content_sha256)
    assert (one["draft"]["number"], one["draft"]["sha256"]) == (2, row.content_sha256)
    assert one["draft"]["approved_at"] is None


def test_a_procedure_without_a_draft_says_null(lab: Lab, client: Client) -> None:
    client.force_login(lab.technician)
    assert client.get(f"{reverse(LIST)}?fields=code,draft").json()["results"] == [
        {"code": "CAL-1", "draft": None}
    ]


def test_a_revision_gives_its_content_as_its_file_does(
    lab: Lab, client: Client, bearer: Callable[[Person], dict[str, str]]
) -> None:
    told = client.get(of_revision(1), headers=bearer(lab.technician)).json()
    client.force_login(lab.technician)
    file = client.get(reverse("revision-file", args=[lab.revision.pk])).content
    assert told["content"] == json.loads(file)
    assert told["state"] == "in force"
    assert told["sha256"] == lab.revision.content_sha256
    # The hash is of the very content that is given, written as sorted text without blanks.
    text = json.dumps(told["content"], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert hash_of(text) == told["sha256"]
    assert [one["name"] for one in told["approvals"]] == ["The reviewer"]
    assert told["approvals"][0]["record_sha256"] == told["sha256"]


def test_a_draft_has_no_approval(lab: Lab, draft: Callable[..., Revision], client: Client) -> None:
    draft()
    client.force_login(lab.auditor)
    told = client.get(of_revision(2)).json()
    assert (told["state"], told["approvals"], told["approved_at"]) == ("draft", [], None)


@pytest.mark.parametrize(("code", "number"), [("CAL-1", 9), ("CAL-9", 1)])
def test_what_is_not_there_is_not_found(lab: Lab, client: Client, code: str, number: int) -> None:
    client.force_login(lab.auditor)
    answer = client.get(of_revision(number, code))
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")


def test_a_content_becomes_a_draft_by_the_same_act(
    lab: Lab, client: Client, bearer: Callable[[Person], dict[str, str]]
) -> None:
    answer = send(client, {"content": content(), "change": "three readings"}, headers=bearer(lab.technician))
    assert answer.status_code == 201
    told = answer.json()
    assert (told["number"], told["state"], told["change"]) == (2, "draft", "three readings")
    assert told["content"]["repeats"] == 3
    row = Revision.objects.get(number=2)
    assert row.content == dump(laboratory.shipped(repeats=3))
    assert JournalEntry.objects.filter(act="procedures.draft-revision", subject=f"revision:{row.pk}").exists()


def test_a_draft_is_replaced_where_the_change_was_made_from_it(
    lab: Lab, draft: Callable[..., Revision], client: Client
) -> None:
    row = draft()
    client.force_login(lab.reviewer)
    body = {"content": content(repeats=5), "based_on_sha256": row.content_sha256}
    answer = send(client, body)
    assert (answer.status_code, answer.json()["content"]["repeats"]) == (200, 5)
    # What was said of the change stays where nothing else is said.
    assert answer.json()["change"] == row.change
    moved = send(client, body)
    assert (moved.status_code, moved.json()["code"]) == (400, "draft-moved-on")
    assert "Open it again" in moved.json()["sentence"]


def test_a_draft_is_not_overwritten_unseen(lab: Lab, draft: Callable[..., Revision], client: Client) -> None:
    row = draft()
    client.force_login(lab.technician)
    answer = send(client, {"content": content(repeats=5), "change": "five"})
    assert (answer.status_code, answer.json()["code"]) == (400, "draft-exists")
    row.refresh_from_db()
    assert json.loads(row.content)["repeats"] == 3


@pytest.mark.parametrize(
    ("body", "code", "field"),
    [
        ({"content": {"format": 1}, "change": "x"}, None, None),
        ({"change": "x"}, "invalid", "content"),
        ({"content": "text", "change": "x"}, "invalid", "content"),
        ({"content": content()}, "change-not-described", "change"),
        ({"content": content(), "based_on_sha256": "0" * 64}, "no-draft-to-replace", "based_on_sha256"),
    ],
)
def test_what_cannot_stand_is_refused_with_a_sentence(
    lab: Lab, client: Client, body: dict[str, Any], code: str | None, field: str | None
) -> None:
    client.force_login(lab.technician)
    answer = send(client, body)
    told = answer.json()
    assert answer.status_code == 400
    assert set(told) == {"code", "sentence", "fields", "data"} and told["sentence"]
    assert code is None or told["code"] == code
    assert field is None or field in told["fields"]
    assert Revision.objects.count() == 1


def test_a_fault_of_the_content_names_its_place(lab: Lab, client: Client) -> None:
    client.force_login(lab.technician)
    told = send(client, {"content": {**content(), "repeats": 0}, "change": "none"}).json()
    assert told["code"] == "procedure-content"
    assert "repeats" in told["sentence"]


@pytest.mark.parametrize("role", ["auditor", "floor", "administrator"])
def test_who_may_not_draft_brings_nothing(
    lab: Lab, client: Client, role: str, bearer: Callable[[Person], dict[str, str]]
) -> None:
    answer = send(client, {"content": content(), "change": "x"}, headers=bearer(getattr(lab, role)))
    assert (answer.status_code, answer.json()["code"]) == (403, "permission-denied")
    assert Revision.objects.count() == 1


def test_nobody_reads_without_a_token(lab: Lab, client: Client) -> None:
    for address in (reverse(LIST), of_revision(1)):
        assert client.get(address).status_code == 401


def test_the_page_of_addresses_explains_them(lab: Lab, client: Client) -> None:
    client.force_login(lab.auditor)
    shown = {(one.method, one.path): one for one in client.get(reverse("api-docs")).context["addresses"]}
    drafting = shown["POST", "/api/v1/procedures/{code}/draft/"]
    assert {"number", "state", "sha256", "content", "approvals"} <= {field.name for field in drafting.fields}
    assert [status for status, _ in drafting.errors] == ["400", "401", "403", "404", "409"]
    assert ("GET", "/api/v1/procedures/{code}/revisions/{number}/") in shown
