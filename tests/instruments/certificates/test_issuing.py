"""From the number to the file: made once, stored whole, whatever dies in between."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from celery import current_app

from instruments.certificates import tasks
from instruments.certificates.models import Certificate
from instruments.certificates.operations import AlreadyIssued, issuing, render
from instruments.certificates.operations.issuing import RENDERER, record_file
from instruments.certificates.printing import RenderingFailed, pdf_of
from instruments.certificates.queries import DocumentChanged, document_of, file_fault, stored_file
from instruments.certificates.tasks import render_owed, sweep
from labsys.jobs.models import JobRun, OwedWork
from labsys.jobs.owed import LEASE
from labsys.journal.models import JournalEntry

pytestmark = pytest.mark.usefixtures("type_is_built")
MINUTE = timedelta(minutes=1)


class Killed(BaseException):
    """What stands for the power going off: nothing may catch it."""


@pytest.fixture
def owed(signed: Certificate) -> OwedWork:
    return OwedWork.objects.get(subject=f"certificate:{signed.pk}")


@pytest.fixture
def folder(settings: Any) -> Iterator[Path]:
    yield Path(settings.MEDIA_ROOT) / "certificates"


def _issued(certificate: Certificate) -> Certificate:
    certificate.refresh_from_db()
    assert certificate.state == "issued"
    assert file_fault(certificate) == ""
    assert hashlib.sha256(stored_file(certificate)).hexdigest() == certificate.file_sha256
    return certificate


def test_the_sweep_makes_the_file_and_issues(signed: Certificate, owed: OwedWork, folder: Path) -> None:
    now = signed.numbered_at + MINUTE
    assert file_fault(signed) == "The file is not made yet."
    assert sweep(now) == (1, 0)
    certificate = _issued(signed)
    assert certificate.issued_at == now
    assert stored_file(certificate) == pdf_of(document_of(certificate))
    assert [path.name for path in folder.iterdir()] == [f"CAL-00001-{certificate.file_sha256[:16]}.pdf"]
    owed.refresh_from_db()
    assert owed.done_at == now
    entry = JournalEntry.objects.get(act="certificates.issue")
    assert (entry.subject, entry.actor_id) == (f"certificate:{signed.pk}", "job:render-certificate")
    assert (entry.after or {})["file_sha256"] == certificate.file_sha256
    assert sweep(now + MINUTE) == (0, 0)


def test_the_task_keeps_its_run(signed: Certificate) -> None:
    render_owed()
    run = JobRun.objects.get(name="render-certificates")
    assert (run.outcome, run.done, run.total) == ("done", 1, 1)
    _issued(signed)


@pytest.mark.parametrize(("at_once", "asked"), [(1, [render_owed.name]), (2, [])])
def test_a_sweep_stops_after_some_files_and_asks_for_the_rest(
    at_once: int, asked: list[str], signed: Certificate, monkeypatch: Any
) -> None:
    sent: list[str] = []
    monkeypatch.setattr(current_app, "send_task", lambda name, **options: sent.append(name))
    monkeypatch.setattr(tasks, "AT_ONCE", at_once)
    render_owed()
    assert sent == asked
    _issued(signed)


def test_signing_wakes_the_worker_after_the_commit(
    lab: Any, submission: Any, monkeypatch: Any, django_capture_on_commit_callbacks: Any
) -> None:
    from tests.instruments.certificates.conftest import sign

    sent: list[str] = []
    monkeypatch.setattr(current_app, "send_task", lambda name, **options: sent.append(name))
    with django_capture_on_commit_callbacks() as waiting:
        sign(lab, submission)
    assert sent == []
    for callback in waiting:
        callback()
    assert sent == [render_owed.name]


def test_a_failed_rendering_stays_owed_with_its_error_and_is_made_later(
    signed: Certificate, owed: OwedWork, monkeypatch: Any
) -> None:
    def fail(document: Any) -> bytes:
        raise RenderingFailed(number=document.number, problem="no memory")

    now = signed.numbered_at + MINUTE
    with monkeypatch.context() as broken:
        broken.setattr(issuing, "pdf_of", fail)
        assert sweep(now) == (0, 1)
    owed.refresh_from_db()
    assert owed.done_at is None
    assert "no memory" in owed.last_error
    signed.refresh_from_db()
    assert (signed.state, signed.file_sha256) == ("numbered", "")
    assert sweep(now + LEASE) == (1, 0)
    owed.refresh_from_db()
    assert (owed.attempts, owed.last_error) == (2, "")
    _issued(signed)


def test_a_full_disk_leaves_nothing_half_made(signed: Certificate, folder: Path, monkeypatch: Any) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", full)
        assert sweep(signed.numbered_at + MINUTE) == (0, 1)
    assert list(folder.iterdir()) == []
    assert "No space left" in OwedWork.objects.get().last_error


def _die(*args: Any, **kwargs: Any) -> Any:
    raise Killed


def _issue_then_die(**kwargs: Any) -> Any:
    record_file(**kwargs)
    raise Killed


@pytest.mark.parametrize(
    ("where", "what", "happens"),
    [
        (os, "replace", _die),  # before the file has its name
        (issuing, "record_file", _die),  # after it, before the row knows
        (issuing, "record_file", _issue_then_die),  # after the row, before the work is ticked off
    ],
)
def test_killed_in_the_middle_the_next_run_ends_it(
    signed: Certificate, folder: Path, monkeypatch: Any, where: Any, what: str, happens: Any
) -> None:
    now = signed.numbered_at + MINUTE
    with monkeypatch.context() as power, pytest.raises(Killed):
        power.setattr(where, what, happens)
        sweep(now)
    assert sweep(now + MINUTE) == (0, 0), "the lease holds"
    assert sweep(now + LEASE) == (1, 0)
    certificate = _issued(signed)
    whole = [path for path in folder.iterdir() if path.suffix == ".pdf"]
    assert [path.name for path in whole] == [Path(str(certificate.file.name)).name]
    assert JournalEntry.objects.filter(act="certificates.issue").count() == 1


def test_a_stored_file_is_taken_only_when_it_is_whole(signed: Certificate, folder: Path) -> None:
    content = pdf_of(document_of(signed))
    name = f"CAL-00001-{hashlib.sha256(content).hexdigest()[:16]}.pdf"
    folder.mkdir(parents=True)
    (folder / name).write_bytes(content[:1000])
    assert sweep(signed.numbered_at + MINUTE) == (1, 0)
    assert (folder / name).read_bytes() == content
    _issued(signed)


def test_an_issued_certificate_is_never_made_again(signed: Certificate, monkeypatch: Any) -> None:
    render(signed, signed.numbered_at + MINUTE)
    certificate = _issued(signed)

    def never(document: Any) -> bytes:
        raise AssertionError("rendered again")

    monkeypatch.setattr(issuing, "pdf_of", never)
    assert render(certificate, signed.numbered_at + 2 * MINUTE).issued_at == certificate.issued_at
    with pytest.raises(AlreadyIssued):
        record_file(
            certificate=certificate,
            name="x.pdf",
            sha256="0" * 64,
            by=RENDERER,
            now=signed.numbered_at + MINUTE,
        )


def test_a_changed_text_is_not_printed(signed: Certificate) -> None:
    signed.document = signed.document.replace("CAL-00001", "CAL-00009")
    with pytest.raises(DocumentChanged):
        document_of(signed)


def test_a_changed_or_missing_file_is_noticed(signed: Certificate) -> None:
    certificate = render(signed, signed.numbered_at + MINUTE)
    path = Path(str(certificate.file.path))
    path.write_bytes(path.read_bytes() + b"\n")
    assert file_fault(certificate).startswith("The file in the store is not the one that was issued.")
    path.unlink()
    assert file_fault(certificate).startswith("The file is missing from the store.")
