"""The pages: who sees what, the exact file, signing with the password, the public page."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as site
from django.core.cache import cache
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from instruments.certificates.models import Certificate, NumberSeries
from instruments.certificates.operations import lock_series, render
from instruments.certificates.queries import VERIFY_PATH, stored_file
from instruments.certificates.views.limit import MOST
from instruments.inventory.models import Gauge
from instruments.measuring.models import Submission
from instruments.measuring.operations import return_submission
from labsys.accounts.models import Activity, Person
from labsys.accounts.operations import withdraw_authorisation
from standards.traceability.models import CertificateReceived
from tests import laboratory
from tests.instruments.certificates.conftest import sign
from tests.laboratory import PASSWORD, Lab

Sitting = Callable[..., Submission]
READERS = ("manager", "technician", "reviewer", "auditor", "administrator")


@pytest.fixture(autouse=True)
def _fresh_counts() -> None:
    cache.clear()


@pytest.fixture
def issued(signed: Certificate, type_is_built: None) -> Certificate:
    return render(signed, signed.numbered_at + timedelta(minutes=1))


@pytest.fixture
def enter(client: Client) -> Callable[[Person], Client]:
    def do(person: Person) -> Client:
        client.force_login(person)
        return client

    return do


Enter = Callable[[Person], Client]


def _addresses(certificate: Certificate) -> list[str]:
    names = ("certificate", "certificate-pdf", "certificate-data")
    return [reverse("certificates"), *(reverse(name, args=[certificate.pk]) for name in names)]


# Who may read.


@pytest.mark.parametrize("role", READERS)
def test_readers_read(lab: Lab, issued: Certificate, enter: Enter, role: str) -> None:
    web = enter(getattr(lab, role))
    for address in _addresses(issued):
        assert web.get(address).status_code == 200, address


def test_the_floor_and_strangers_do_not(lab: Lab, issued: Certificate, client: Client) -> None:
    for address in _addresses(issued):
        assert client.get(address).status_code == 302
    client.force_login(lab.floor)
    for address in _addresses(issued):
        assert client.get(address).status_code == 403


def test_the_list_narrows_by_its_address(lab: Lab, sitting: Sitting, enter: Enter) -> None:
    laboratory.agreed(lab)
    model = laboratory.caliper_model(lab)
    for tag in ("C-0001", "C-0002"):
        sign(lab, sitting(laboratory.caliper_gauge(lab, model, tag=tag)))
    web = enter(lab.auditor)

    def shown(**asked: str) -> list[str]:
        page = web.get(reverse("certificates"), asked).content.decode()
        return [number for number in ("CAL-00001", "CAL-00002") if number in page]

    assert shown() == ["CAL-00001", "CAL-00002"]
    assert shown(text="C-0002") == ["CAL-00002"]
    assert shown(text="cal-00001") == ["CAL-00001"]
    assert shown(tag="c-0001") == ["CAL-00001"]
    assert shown(state="issued") == []
    assert shown(since="2025-06-03", until="2025-06-03") == ["CAL-00001", "CAL-00002"]
    assert shown(since="2025-06-04") == []
    assert shown(until="2025-06-02") == []
    assert shown(department="nowhere") == []
    lines = b"".join(web.get(reverse("certificates"), {"as": "csv", "order": "number"})).decode().splitlines()
    assert lines[1].split(",")[:3] == ["CAL-00001", "C-0001", "Caliper"]
    assert len(lines) == 3


def test_the_list_asks_no_more_for_more_rows(lab: Lab, sitting: Sitting, enter: Enter) -> None:
    laboratory.agreed(lab)
    model = laboratory.caliper_model(lab)
    web = enter(lab.auditor)
    counts = []
    for tag in ("C-0001", "C-0002", "C-0003"):
        sign(lab, sitting(laboratory.caliper_gauge(lab, model, tag=tag)))
        web.get(reverse("certificates"))
        with CaptureQueriesContext(
            connection,
        ) as asked:
            web.get(reverse("certificates"))
        counts.append(len(asked))
    assert counts[0] == counts[1] == counts[2] <= 12


# The page of one.


def test_the_page_leads_from_the_certificate_to_where_the_chain_ends(
    lab: Lab, issued: Certificate, enter: Enter
) -> None:
    page = enter(lab.auditor).get(reverse("certificate", args=[issued.pk])).content.decode()
    assert page.count("the chain holds") == 2
    assert "the chain ends here" in page
    assert "KB-GB-01/25" in page
    assert "is the one that was issued" in page
    assert issued.file_sha256 in page and issued.document_sha256 in page
    assert "CAL-1 revision 1" in page


def test_a_chain_that_breaks_later_is_shown_on_the_page(lab: Lab, issued: Certificate, enter: Enter) -> None:
    name = CertificateReceived.objects.get(number="KB-GB-01/25").file.name
    assert name is not None
    default_storage.delete(name)
    page = enter(lab.auditor).get(reverse("certificate", args=[issued.pk])).content.decode()
    assert "the chain is broken" in page
    assert "missing from the store" in page


def test_as_of_a_day(lab: Lab, issued: Certificate, enter: Enter) -> None:
    web, address = enter(lab.auditor), reverse("certificate", args=[issued.pk])
    assert "not signed yet on that day" in web.get(address, {"on": "2025-06-02"}).content.decode()
    later = web.get(address, {"on": "2025-06-03"}).content.decode()
    assert "As on" in later and "not signed yet" not in later
    assert "names no day that has been" in web.get(address, {"on": "2999-01-01"}).content.decode()


def test_the_exact_bytes_are_given(lab: Lab, issued: Certificate, enter: Enter) -> None:
    answer = enter(lab.technician).get(reverse("certificate-pdf", args=[issued.pk]))
    assert answer.content == stored_file(issued)
    assert hashlib.sha256(answer.content).hexdigest() == issued.file_sha256
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == 'inline; filename="CAL-00001.pdf"'


def test_a_changed_file_is_not_given(lab: Lab, issued: Certificate, enter: Enter) -> None:
    path = Path(issued.file.path)
    path.write_bytes(path.read_bytes()[:-1])
    web = enter(lab.auditor)
    answer = web.get(reverse("certificate-pdf", args=[issued.pk]))
    assert answer.status_code == 409
    assert "is not the one that was issued" in answer.content.decode()
    assert (
        "is not the one that was issued" in web.get(reverse("certificate", args=[issued.pk])).content.decode()
    )


def test_a_file_that_is_still_owed(lab: Lab, signed: Certificate, enter: Enter) -> None:
    web = enter(lab.auditor)
    assert "is being made" in web.get(reverse("certificate", args=[signed.pk])).content.decode()
    assert web.get(reverse("certificate-pdf", args=[signed.pk])).status_code == 409


def test_the_data_is_the_signed_text(lab: Lab, signed: Certificate, enter: Enter) -> None:
    answer = enter(lab.auditor).get(reverse("certificate-data", args=[signed.pk]))
    assert hashlib.sha256(answer.content).hexdigest() == signed.document_sha256


def test_the_gauge_page_shows_its_certificates(lab: Lab, signed: Certificate, enter: Enter) -> None:
    page = enter(lab.auditor).get(reverse("gauge", args=[signed.session.gauge_id])).content.decode()
    assert reverse("certificate", args=[signed.pk]) in page


# Signing.


@pytest.fixture
def signing(lab: Lab, submission: Submission, enter: Enter, time_machine: Any) -> tuple[Client, str]:
    """The reviewer in front of the page, a minute after the submission."""
    time_machine.move_to(submission.submitted_at + timedelta(minutes=1), tick=False)
    return enter(lab.reviewer), reverse("review-submission", args=[submission.pk])


def _given(submission: Submission, **changes: str) -> dict[str, str]:
    return {"seen_sha256": submission.record_sha256, "password": PASSWORD, **changes}


def test_the_page_shows_what_is_signed_then_signs(
    signing: tuple[Client, str], submission: Submission
) -> None:
    web, address = signing
    page = web.get(address).content.decode()
    assert "What the certificate will say" in page
    assert page.count('class="corridor corridor-row"') >= submission.results.count()
    assert "signed yet" not in page
    answer = web.post(address, _given(submission))
    certificate = Certificate.objects.get()
    assert answer["Location"] == reverse("certificate", args=[certificate.pk])
    assert certificate.number == "CAL-00001"
    after = web.get(address).content.decode()
    assert (
        f'href="{reverse("certificate", args=[certificate.pk])}"' in after and "Sign and issue" not in after
    )


def test_a_wrong_password_signs_nothing(signing: tuple[Client, str], submission: Submission) -> None:
    web, address = signing
    answer = web.post(address, _given(submission, password="not this one"))
    assert answer.status_code == 422
    assert "nothing was signed" in answer.content.decode()
    assert "not this one" not in answer.content.decode()
    assert not Certificate.objects.exists()


def test_what_was_read_is_what_is_signed(signing: tuple[Client, str], submission: Submission) -> None:
    web, address = signing
    answer = web.post(address, _given(submission, seen_sha256="0" * 64))
    assert answer.status_code == 422
    assert "handed in anew" in answer.content.decode()
    assert not Certificate.objects.exists()


def test_a_returned_submission_can_not_be_signed(
    lab: Lab, signing: tuple[Client, str], submission: Submission
) -> None:
    web, address = signing
    return_submission(submission=submission, reason="repeat", by=lab.reviewer, now=submission.submitted_at)
    page = web.get(address).content.decode()
    assert "waits for nobody" in page and "Sign and issue" not in page
    answer = web.post(address, _given(submission))
    assert answer.status_code == 422
    assert "nothing to review" in answer.content.decode()


def test_a_refusal_stays_on_the_page(lab: Lab, signing: tuple[Client, str], submission: Submission) -> None:
    web, address = signing
    withdraw_authorisation(
        person=lab.reviewer, activity=Activity.AUTHORISE, family=lab.family, reason="left", by=laboratory.SETUP,
        now=submission.submitted_at,
    )  # fmt: skip
    answer = web.post(address, _given(submission))
    assert answer.status_code == 422
    assert "not authorised to authorise certificates" in answer.content.decode()
    assert not Certificate.objects.exists()


@pytest.mark.usefixtures("type_is_built")
def test_the_draft_is_a_draft(signing: tuple[Client, str], submission: Submission) -> None:
    web, _address = signing
    answer = web.get(reverse("certificate-draft", args=[submission.pk]))
    assert answer["Content-Type"] == "application/pdf"
    import io

    from pypdf import PdfReader

    assert "Draft, not signed" in PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert not Certificate.objects.exists()


@pytest.mark.parametrize("role", ["manager", "technician", "floor", "auditor", "administrator"])
def test_only_a_signatory_comes_to_the_page(
    lab: Lab, submission: Submission, enter: Enter, role: str
) -> None:
    web = enter(getattr(lab, role))
    for name in ("review-submission", "certificate-draft"):
        assert web.get(reverse(name, args=[submission.pk])).status_code == 403
    assert web.post(reverse("review-submission", args=[submission.pk]), _given(submission)).status_code == 403


# Numbers.


def test_the_manager_confirms_the_highest_number(lab: Lab, signed: Certificate, enter: Enter) -> None:
    lock_series(reason="restored", by=lab.administrator, now=signed.numbered_at)
    series, web = NumberSeries.objects.get(), enter(lab.manager)
    assert "no certificate can be signed" in web.get(reverse("certificates")).content.decode()
    address = reverse("certificate-number-confirm", args=[series.pk])
    low = web.post(address, {"highest": "0", "reason": "looked"})
    assert low.status_code == 422 and "Expected CAL-00001 or more" in low.content.decode()
    assert web.post(address, {"highest": "7", "reason": "looked"}).status_code == 302
    series.refresh_from_db()
    assert (series.last, series.confirmed) == (7, True)
    assert "CAL-00007" in web.get(reverse("certificate-numbers")).content.decode()


def test_who_may_not_confirm(lab: Lab, signed: Certificate, enter: Enter) -> None:
    address = reverse("certificate-number-confirm", args=[NumberSeries.objects.get().pk])
    for person in (lab.reviewer, lab.technician, lab.auditor):
        assert enter(person).get(address).status_code == 403


# The public page.


def _public(certificate: Certificate) -> str:
    return reverse("certificate-verify", args=[certificate.code])


def test_the_printed_address_is_the_page(issued: Certificate, client: Client) -> None:
    assert _public(issued) == VERIFY_PATH.format(code=issued.code)
    printed = json.loads(issued.document)["verification_url"]
    assert printed == site.SITE_URL + _public(issued)
    page = client.get(_public(issued)).content.decode()
    for said in ("CAL-00001", "C-0001", "2025-06-03", "in tolerance", issued.file_sha256, "It stands"):
        assert said in page
    for secret in ("S-C-0001", "Shafts", "The technician", "KB-GB-01/25"):
        assert secret not in page


def _sent(content: bytes) -> dict[str, Any]:
    return {"file": SimpleUploadedFile("certificate.pdf", content, content_type="application/pdf")}


def test_a_file_is_compared_in_place_and_nothing_of_it_is_kept(issued: Certificate, client: Client) -> None:
    before = sorted(path for path in Path(site.MEDIA_ROOT).rglob("*"))
    strict = Client(enforce_csrf_checks=True)
    same = strict.post(_public(issued), _sent(stored_file(issued)))
    assert "to the last byte" in same.content.decode()
    other = strict.post(_public(issued), _sent(stored_file(issued) + b"\n"))
    assert "is not the one" in other.content.decode()
    assert hashlib.sha256(stored_file(issued) + b"\n").hexdigest() in other.content.decode()
    assert sorted(path for path in Path(site.MEDIA_ROOT).rglob("*")) == before
    assert "This field is required" in strict.post(_public(issued), {}).content.decode()


def test_a_larger_file_is_compared_too_without_a_copy_on_disk(
    issued: Certificate, client: Client, settings: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "uploads"
    folder.mkdir()
    settings.FILE_UPLOAD_TEMP_DIR = str(folder)
    large = b"x" * (3 * 1024 * 1024)
    answer = client.post(_public(issued), _sent(large))
    assert hashlib.sha256(large).hexdigest() in answer.content.decode()
    assert list(folder.iterdir()) == []


def test_looking_writes_nothing(issued: Certificate, client: Client) -> None:
    with CaptureQueriesContext(connection) as asked:
        client.get(_public(issued))
        client.post(_public(issued), _sent(b"x"))
    assert [query["sql"] for query in asked if not query["sql"].startswith("SELECT")] == []


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("numbered", "its file is being made"),
        ("superseded", "It was superseded"),
        ("withdrawn", "It was withdrawn"),
    ],
)
def test_what_no_longer_stands_is_said(issued: Certificate, client: Client, state: str, said: str) -> None:
    Certificate.objects.filter(pk=issued.pk).update(state=state)
    page = client.get(_public(issued)).content.decode()
    assert said in page
    assert "It stands" not in page


def test_a_superseded_one_names_its_successor(lab: Lab, issued: Certificate, client: Client) -> None:
    fields = {
        name: getattr(issued, name)
        for name in ("session", "submission", "document", "document_sha256", "signature", "numbered_at")
    }
    later = Certificate.objects.create(number="CAL-00002", supersedes=issued, **fields)
    Certificate.objects.filter(pk=issued.pk).update(state="superseded")
    page = client.get(_public(issued)).content.decode()
    assert "CAL-00002" in page and _public(later) in page
    client.force_login(lab.auditor)
    assert (
        "Superseded by certificate" in client.get(reverse("certificate", args=[issued.pk])).content.decode()
    )


def test_wrong_codes_get_one_answer(issued: Certificate, client: Client) -> None:
    pages = [client.get(f"/verify/{code}/") for code in ("0" * 32, issued.code[:-1] + "g", "CAL-00001", "x")]
    assert [page.status_code for page in pages] == [404] * 4
    # Every page carries a token of its own against forged requests.
    assert len({re.sub(r'"X-CSRFToken": "\w+"', "", page.content.decode()) for page in pages}) == 1


def test_too_many_questions_are_braked_lightly(issued: Certificate, client: Client) -> None:
    for _ in range(MOST):
        assert client.get(_public(issued)).status_code == 200
    braked = client.get(_public(issued))
    assert (braked.status_code, braked["Retry-After"]) == (429, "60")
    assert client.get(_public(issued), REMOTE_ADDR="192.0.2.7").status_code == 200


# For programs.


def test_the_api_gives_list_and_document(lab: Lab, issued: Certificate, enter: Enter) -> None:
    web = enter(lab.auditor)
    listed = web.get(reverse("api-certificates")).json()
    assert listed["count"] == 1
    assert listed["results"][0]["number"] == "CAL-00001"
    assert "document" not in listed["results"][0]
    one = web.get(reverse("api-certificate", args=["CAL-00001"])).json()
    assert one["document"] == json.loads(issued.document)
    assert one["file_sha256"] == issued.file_sha256
    assert web.get(reverse("api-certificates"), {"state": "withdrawn"}).json()["count"] == 0
    assert web.get(reverse("api-certificate", args=["CAL-99999"])).status_code == 404


def test_the_api_refuses_strangers_and_the_floor(lab: Lab, issued: Certificate, client: Client) -> None:
    assert client.get(reverse("api-certificates")).status_code in (401, 403)
    client.force_login(lab.floor)
    assert client.get(reverse("api-certificates")).status_code == 403


def test_help_is_there(lab: Lab, enter: Enter) -> None:
    page = enter(lab.reviewer).get("/help/certificates/").content.decode()
    assert "Is this paper genuine?" in page


def test_gauges_without_certificates_say_so(lab: Lab, gauge: Gauge, enter: Enter) -> None:
    page = enter(lab.auditor).get(reverse("gauge", args=[gauge.pk])).content.decode()
    assert "No certificate was signed for it." in page
