"""The page of messages: who sees it, and that each button calls its one act."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.test import Client

from labsys.accounts.models import Person
from labsys.jobs import notices
from labsys.jobs.models import Notice
from labsys.jobs.notices import Draft

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Client:
    person = Person.objects.create_user("manager", name="The manager")
    person.groups.set(Group.objects.filter(name="manager"))
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def doubtful(draft: Callable[..., Draft]) -> Notice:
    notices.plan([draft()], NOW)
    Notice.objects.update(state="doubtful", handing_over_at=NOW, last_error="The sender stopped.")
    return Notice.objects.get()


def text(response: Any) -> str:
    return str(response.content.decode())


def test_what_is_to_be_decided_is_listed_with_what_happened(manager: Client, doubtful: Notice) -> None:
    page = text(manager.get("/lab/messages/"))
    assert "1 to decide about." in page
    assert doubtful.title in page and "The sender stopped." in page


def test_a_message_is_sent_again_from_there_and_only_once(manager: Client, doubtful: Notice) -> None:
    address = f"/lab/messages/{doubtful.pk}/resend/"
    assert manager.get(address).status_code == 405
    assert manager.post(address)["Location"] == "/lab/messages/"
    assert Notice.objects.get().state == "planned"
    again = manager.post(address)
    assert again.status_code == 409
    assert "isn&#x27;t sent again" in text(again)


def test_arrival_needs_the_reason_one_knows_it_by(manager: Client, doubtful: Notice) -> None:
    address = f"/lab/messages/{doubtful.pk}/arrived/"
    assert manager.post(address, {"reason": ""}).status_code == 422
    assert Notice.objects.get().state == "doubtful"
    assert manager.post(address, {"reason": "He has it."})["Location"] == "/lab/messages/"
    assert Notice.objects.get().state == "sent"
    assert "Nothing to decide about." in text(manager.get("/lab/messages/"))
