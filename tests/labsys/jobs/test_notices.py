"""Messages are sent once and none is lost: against a real mail server, with senders that race and die."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError
from django.db import connection

from labsys.accounts.models import Person
from labsys.jobs import notices, operations, queries
from labsys.jobs.models import Notice
from labsys.jobs.notices import LEASE, Draft
from labsys.jobs.sending import Sent, send_ready
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from tests.labsys.jobs.conftest import Post

pytestmark = pytest.mark.django_db
# Where a second connection must see what the first one wrote.
seen_by_others = pytest.mark.django_db(transaction=True)
NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
MakeDraft = Callable[..., Draft]


def at(now: datetime = NOW) -> Callable[[], datetime]:
    return lambda: now


def send(now: datetime = NOW, sender: str = "one") -> Sent:
    return send_ready(clock=at(now), sender=sender)


def test_a_message_goes_out_once_with_its_own_id(post: Post, draft: MakeDraft) -> None:
    assert notices.plan([draft()], NOW) == 1
    assert notices.plan([draft(title="Planned again")], NOW) == 0
    assert send().sent == 1
    assert send(NOW + timedelta(days=1)).sent == 0
    (mail,) = post.mails()
    row = Notice.objects.get()
    assert (row.state, row.sent_at) == ("sent", NOW)
    assert mail["Message-ID"] == row.message_id == notices.message_id(draft())
    assert mail["Subject"] == "2 gauges are due"
    assert mail["To"] == "shift.lead@plant.example"


@pytest.mark.parametrize("change", ["recipient", "kind", "subject", "period"])
def test_each_part_of_the_key_makes_another_message(draft: MakeDraft, change: str) -> None:
    assert notices.plan([draft(), draft(**{change: "other"})], NOW) == 2


@seen_by_others
def test_eight_senders_at_once_send_it_once(post: Post, draft: MakeDraft) -> None:
    notices.plan([draft(recipient=f"person:{number}") for number in range(12)], NOW)

    def one(number: int) -> int:
        try:
            return send_ready(clock=at(), sender=f"sender {number}").sent
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as senders:
        counts = list(senders.map(one, range(8)))
    assert sum(counts) == 12
    ids = [mail["Message-ID"] for mail in post.mails()]
    assert len(ids) == len(set(ids)) == 12


DYING = """
import os, sys, django
django.setup()
from django.utils import timezone
from labsys.jobs import notices, sending
die = lambda *args, **kwargs: os._exit(9)
match sys.argv[1]:
    case "claimed": notices.begin_hand_over = die
    case "handing over": sending.as_mail = die
    case "handed over": notices.record_sent = die
sending.send_ready(clock=timezone.now, sender="doomed")
"""


def _address() -> str:
    found = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{found['NAME']}"
    place = f"{found['HOST'] or '127.0.0.1'}:{found['PORT'] or 5432}"
    login = f"{found['USER']}:{found['PASSWORD']}" if found["PASSWORD"] else found["USER"]
    return f"postgres://{login}@{place}/{found['NAME']}"


def die(when: str, post: Post) -> datetime:
    """Let a sender in a process of its own be killed at ``when``; gives an instant after which its lease is over."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {
            "PATH": os.environ["PATH"],
            "DJANGO_SETTINGS_MODULE": "labsys.settings",
            "LABSYS_VAR": folder,
            "DATABASE_URL": _address(),
            "SMTP_URL": f"smtp://127.0.0.1:{post.port}",
        }
        root = Path(__file__).parents[3]
        done = subprocess.run([sys.executable, "-c", DYING, when], env=environment, cwd=root, check=False)
    assert done.returncode == 9
    return datetime.now(UTC) + LEASE + timedelta(seconds=1)


@seen_by_others
def test_a_sender_killed_with_a_claim_loses_it_after_the_lease(post: Post, draft: MakeDraft) -> None:
    notices.plan([draft()], NOW)
    after = die("claimed", post)
    assert Notice.objects.get().state == "claimed"
    assert send(after - LEASE).sent == 0
    assert send(after).sent == 1
    assert send(after + LEASE).sent == 0
    assert len(post.taken) == 1


@seen_by_others
@pytest.mark.parametrize(("when", "arrived"), [("handing over", 0), ("handed over", 1)])
def test_a_sender_killed_while_handing_over_leaves_it_doubtful(
    post: Post, draft: MakeDraft, when: str, arrived: int
) -> None:
    """Whether the server got it or not, the ledger can't know: it is listed, never sent again by itself."""
    notices.plan([draft()], NOW)
    after = die(when, post)
    assert Notice.objects.get().state == "handing-over"
    assert send(after).doubtful == 1
    assert send(after + timedelta(days=3)).sent == 0
    row = queries.undecided().get()
    assert (row.state, len(post.taken)) == ("doubtful", arrived)


@seen_by_others
def test_a_doubtful_message_is_sent_again_on_somebodys_word_under_the_same_id(
    post: Post, draft: MakeDraft, manager: Person
) -> None:
    notices.plan([draft()], NOW)
    after = die("handed over", post)
    send(after)
    operations.resend(notice=Notice.objects.get(), by=manager, now=after)
    assert send(after).sent == 1
    first, second = post.mails()
    assert first["Message-ID"] == second["Message-ID"]
    with pytest.raises(operations.NothingToDecide):
        operations.resend(notice=Notice.objects.get(), by=manager, now=after)
    assert JournalEntry.objects.filter(act="jobs.resend", outcome="done").count() == 1


@seen_by_others
def test_a_doubtful_message_that_arrived_is_laid_to_rest(
    post: Post, draft: MakeDraft, manager: Person
) -> None:
    notices.plan([draft()], NOW)
    after = die("handed over", post)
    send(after)
    operations.confirm_arrival(notice=Notice.objects.get(), reason="He has it.", by=manager, now=after)
    assert send(after + LEASE).sent == 0
    assert not queries.undecided().exists()


def test_a_sender_that_was_only_slow_still_records_what_it_sent(post: Post, draft: MakeDraft) -> None:
    notices.plan([draft()], NOW)
    notice = notices.claim(NOW, "slow")
    assert notice is not None
    assert notices.begin_hand_over(notice, NOW)
    assert notices.call_doubtful(NOW + LEASE) == 1
    notices.record_sent(notice, NOW + LEASE)
    assert Notice.objects.get().state == "sent"


def test_a_claim_that_was_lost_is_not_handed_over(draft: MakeDraft) -> None:
    notices.plan([draft()], NOW)
    late = notices.claim(NOW, "late")
    taken = notices.claim(NOW + LEASE, "other")
    assert late is not None and taken is not None
    assert not notices.begin_hand_over(late, NOW + LEASE)
    assert notices.begin_hand_over(taken, NOW + LEASE)


def test_no_server_means_try_again_with_growing_pauses(
    settings: Any, draft: MakeDraft, free_port: int
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", free_port
    notices.plan([draft(), draft(period="2026-11-26")], NOW)
    assert send().put_back == 1  # the second isn't tried in the same round
    row = Notice.objects.get(attempts=1)
    assert (row.state, row.claimed_until) == ("planned", NOW + timedelta(minutes=2))
    assert "ConnectionRefusedError" in row.last_error
    assert list(queries.stuck(NOW)) == [row]
    assert notices.claim(NOW + timedelta(minutes=2), "next") is not None


def test_a_server_that_puts_it_off_gets_it_later(post: Post, draft: MakeDraft) -> None:
    post.answers["shift.lead@plant.example"] = "451 try again later"
    notices.plan([draft()], NOW)
    assert send().put_back == 1
    post.answers.clear()
    assert send(NOW + timedelta(minutes=1)).sent == 0
    assert send(NOW + timedelta(minutes=3)).sent == 1


def test_a_refused_message_is_listed_with_the_servers_words(
    post: Post, draft: MakeDraft, manager: Person
) -> None:
    post.answers["shift.lead@plant.example"] = "550 no such mailbox"
    notices.plan([draft()], NOW)
    assert send().refused == 1
    row = queries.undecided().get()
    assert row.state == "refused"
    assert "no such mailbox" in row.last_error
    assert send(NOW + timedelta(days=9)).sent == 0
    post.answers.clear()
    operations.resend(notice=row, by=manager, now=NOW)
    assert send().sent == 1


def test_a_line_that_breaks_after_the_message_leaves_it_doubtful(post: Post, draft: MakeDraft) -> None:
    post.answers["data"] = "hang up"
    notices.plan([draft()], NOW)
    assert send().doubtful == 1
    assert len(post.taken) == 1
    assert send(NOW + timedelta(days=1)).sent == 0


def test_a_title_cannot_smuggle_in_headers(post: Post, draft: MakeDraft) -> None:
    evil = "CAL-1\r\nBcc: everyone@plant.example\r\n\r\nBuy now\x00\u2028"
    notices.plan([draft(title=evil)], NOW)
    assert send().sent == 1
    (mail,) = post.mails()
    assert mail["Bcc"] is None
    assert mail["Subject"] == "CAL-1 Bcc: everyone@plant.example Buy now"
    assert post.taken[0].rcpt_tos == ["shift.lead@plant.example"]


@pytest.mark.parametrize(
    "address", ["", "nobody", "a@b.example\nBcc: c@d.example", "a@b.example, c@d.example"]
)
def test_an_address_that_is_none_is_refused_when_planned(draft: MakeDraft, address: str) -> None:
    with pytest.raises(ValidationError):
        notices.plan([draft(address=address)], NOW)
    assert not Notice.objects.exists()


def test_who_decides_about_messages(draft: MakeDraft, person: Callable[[str], Person]) -> None:
    notices.plan([draft()], NOW)
    Notice.objects.update(state="doubtful")
    for role in ("technician", "reviewer", "floor", "auditor"):
        with pytest.raises(NotAllowed):
            operations.resend(notice=Notice.objects.get(), by=person(role), now=NOW)


@pytest.fixture
def person() -> Callable[[str], Person]:
    def make(role: str) -> Person:
        found = Person.objects.create_user(role, name=f"the {role}")
        found.groups.set(Group.objects.filter(name=role))
        return found

    return make


@pytest.fixture
def manager(person: Callable[[str], Person]) -> Person:
    return person("manager")
