"""The way in for a laboratory whose last administrator forgot the password."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.test import Client

from labsys.accounts.models import Person
from labsys.accounts.operations import deactivate
from labsys.journal.models import JournalEntry
from tests.labsys.conftest import START

pytestmark = pytest.mark.django_db


def run(username: str, reason: str = "forgotten") -> str:
    out = StringIO()
    call_command("way_in", username, reason=reason, stdout=out)
    return out.getvalue().strip()


def test_it_opens_the_page_to_choose_a_password(person: Callable[[str], Person]) -> None:
    person("administrator")
    address = run("Administrator")
    assert address.startswith(f"{settings.SITE_URL}/account/password/reset/key/")
    page = Client().get(address.removeprefix(settings.SITE_URL), follow=True)
    assert "Choose a password" in page.content.decode()
    entry = JournalEntry.objects.order_by("-sequence")[0]
    assert (entry.act, entry.actor_id, entry.reason) == ("accounts.offer-way-in", "job:way-in", "forgotten")


def test_it_says_why_not(person: Callable[[str], Person]) -> None:
    with pytest.raises(CommandError, match="Nobody has the user name 'nobody'"):
        run("nobody")
    with pytest.raises(CommandError, match="needs a reason"):
        run(person("administrator").username, reason=" ")
    deactivate(person=person("technician"), reason="left", by=person("manager"), now=START)
    with pytest.raises(CommandError, match="is closed"):
        run("technician")
