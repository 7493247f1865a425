"""The evidence as one file: everything behind a certificate, each part with its checksum, and who took it."""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.storage import default_storage
from django.test import Client
from django.utils.html import conditional_escape

from instruments.certificates.evidence import pack
from instruments.certificates.evidence.records import upstream
from instruments.certificates.models import Certificate
from instruments.certificates.operations import render
from instruments.certificates.queries import stored_file
from labsys.journal.models import JournalEntry
from standards.register.operations import ValueData, record_calibration
from standards.traceability.models import CertificateReceived
from standards.traceability.queries import chain_of
from tests import laboratory
from tests.laboratory import Lab


@pytest.fixture
def issued(type_is_built: None, signed: Certificate) -> Certificate:
    """A certificate with its file, from a session on traced standards."""
    return render(signed, signed.numbered_at)


def opened(packed: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_everything_is_there_and_matches_its_checksum(issued: Certificate) -> None:
    parts = opened(pack(issued))
    manifest = json.loads(parts["manifest.json"])
    listed = {row["name"]: row["sha256"] for row in manifest["files"]}
    assert set(listed) == set(parts) - {"manifest.json"}
    assert {name: hashlib.sha256(parts[name]).hexdigest() for name in listed} == listed
    assert listed["certificate.pdf"] == issued.file_sha256
    assert listed["session-record.json"] == manifest["record_sha256"] == issued.submission.record_sha256
    assert listed["document.json"] == manifest["document_sha256"]
    (block_set,) = CertificateReceived.objects.filter(number="KB-GB-01/25")
    assert listed[f"upstream/GB-01_KB-GB-01-25_{block_set.pk}.pdf"] == block_set.file_sha256
    assert all(row["bytes"] == len(parts[row["name"]]) for row in manifest["files"])
    assert manifest["faults"] == []


def test_the_chain_says_each_link_and_what_was_not_checked(issued: Certificate) -> None:
    report = json.loads(opened(pack(issued))["chain.json"])
    assert report["session"]["link"]["holds"] == "holds"
    assert {row["standard"] for row in report["standards"]} >= {"GB-01", "SR-01"}
    for row in report["standards"]:
        words = {link["code"]: link["holds"] for link in row["links"]}
        assert words["L2"] == "holds"
        assert {words[code] for code in ("L6", "L7", "L10")} == {"not checked yet"}


def test_the_page_in_it_says_the_same_and_leads_to_nothing_outside(issued: Certificate) -> None:
    parts = opened(pack(issued))
    page, report = parts["chain.html"].decode(), json.loads(parts["chain.json"])
    targets = re.findall(r'(?:href|src)="([^"]*)"', page)
    assert set(targets) <= set(parts)
    assert {row["file"] for row in report["standards"]} <= set(targets)
    for row in report["standards"]:
        assert all(conditional_escape(link["sentence"]) in page for link in row["links"])
    assert page.count("not checked yet</b>") == 3 * len(report["standards"])
    assert "://" not in page


def test_unpacked_files_can_be_read_and_carry_no_date_of_the_day(issued: Certificate) -> None:
    with zipfile.ZipFile(io.BytesIO(pack(issued))) as archive:
        for info in archive.infolist():
            assert (info.date_time, info.external_attr >> 16 & 0o777) == ((1980, 1, 1, 0, 0, 0), 0o644)
            assert info.compress_type == zipfile.ZIP_DEFLATED


def test_what_is_missing_or_altered_is_said_and_the_rest_still_given(issued: Certificate) -> None:
    received = CertificateReceived.objects.get(number="KB-GB-01/25")
    default_storage.delete(str(received.file.name))
    stored = Path(settings.MEDIA_ROOT) / str(issued.file.name)
    stored.write_bytes(stored.read_bytes() + b" ")
    parts = opened(pack(issued))
    manifest = json.loads(parts["manifest.json"])
    said = {row["name"]: row["sentence"] for row in manifest["faults"]}
    assert set(said) == {"certificate.pdf", f"upstream/GB-01_KB-GB-01-25_{received.pk}.pdf"}
    assert "not the one that was issued" in said["certificate.pdf"]
    assert parts["certificate.pdf"] == stored.read_bytes()
    assert "missing from the store" in said[f"upstream/GB-01_KB-GB-01-25_{received.pk}.pdf"]
    assert "F03" in {fault["code"] for fault in json.loads(parts["chain.json"])["faults"]}
    stored.unlink()
    assert "certificate.pdf" not in opened(pack(issued))


def test_a_standard_calibrated_here_brings_its_own_certificate_and_session(
    issued: Certificate, lab: Lab
) -> None:
    row = record_calibration(
        standard=lab.rings, calibrated_on=date(2025, 6, 3),
        values=tuple(ValueData(one, Decimal(0), Decimal("0.001"), Decimal(2)) for one in lab.rings.elements.all()),
        evidence=f"session:{issued.session_id}", by=laboratory.SETUP, now=issued.numbered_at,
    )  # fmt: skip
    parts = {part.name: part for part in upstream([chain_of(row, issued.numbered_at)])}
    folder = f"upstream/SR-01_{issued.number}/"
    assert parts[f"{folder}certificate.pdf"].content == stored_file(issued)
    assert parts[f"{folder}session-record.json"].content == issued.submission.record.encode()


def test_the_same_records_give_the_same_bytes(issued: Certificate) -> None:
    assert pack(issued) == pack(issued)


def test_the_journal_extract_holds_to_its_hashes_and_the_export_is_journalled(
    issued: Certificate, lab: Lab, client: Client
) -> None:
    entries = json.loads(opened(pack(issued))["journal.json"])
    assert {hashlib.sha256(row["canonical"].encode()).hexdigest() == row["hash"] for row in entries} == {True}
    client.force_login(lab.auditor)
    answer = client.post(f"/certificates/{issued.pk}/evidence.zip")
    assert answer["Content-Type"] == "application/zip"
    entry = JournalEntry.objects.get(act="certificates.export-evidence")
    assert entry.actor_name == "The auditor"
    assert hashlib.sha256(answer.content).hexdigest() in entry.canonical
    assert client.get(f"/certificates/{issued.pk}/evidence.zip").status_code == 405
    client.force_login(lab.floor)
    assert client.post(f"/certificates/{issued.pk}/evidence.zip").status_code == 403
