"""The first administrator of an empty laboratory."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from labsys.accounts.models import Person
from labsys.journal.models import JournalEntry

pytestmark = pytest.mark.django_db


def typed(monkeypatch: pytest.MonkeyPatch, *answers: str) -> None:
    """Type the answers, one after the other, where the command asks without showing."""
    waiting = list(answers)
    monkeypatch.setattr("getpass.getpass", lambda _prompt: waiting.pop(0))


def test_the_first_person_may_enter_everybody_else(monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, "twelve letters", "twelve letters")
    out = StringIO()
    call_command("first_person", "boss", name="The boss", stdout=out)
    person = Person.objects.get()
    assert person.check_password("twelve letters")
    assert person.may("labsys.manage_people")
    assert "boss" in out.getvalue()
    assert JournalEntry.objects.get().act == "accounts.register-person"


def test_a_second_first_person_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, *["twelve letters"] * 4)
    call_command("first_person", "boss", name="The boss", stdout=StringIO())
    with pytest.raises(CommandError, match="accounts here already"):
        call_command("first_person", "other", name="Another", stdout=StringIO())


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [("twelve letters", "twelve lettres", "differ"), ("short", "short", "too short")],
)
def test_a_password_that_is_no_good_registers_nobody(
    monkeypatch: pytest.MonkeyPatch, first: str, second: str, said: str
) -> None:
    typed(monkeypatch, first, second)
    with pytest.raises(CommandError, match=said):
        call_command("first_person", "boss", name="The boss", stdout=StringIO())
    assert not Person.objects.exists()
