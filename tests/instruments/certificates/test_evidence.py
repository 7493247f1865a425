"""The evidence as one file: everything behind a certificate, each part with its checksum, and who took it."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile

import pytest
from django.test import Client

from instruments.certificates.evidence import pack
from instruments.certificates.models import Certificate
from instruments.certificates.operations import render
from instruments.certificates.work import link_of
from labsys.accounts.models import Activity
from labsys.accounts.operations import withdraw_authorisation
from labsys.journal.models import JournalEntry
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
    assert listed["certificate.json"] == manifest["document_sha256"]
    assert any(name.startswith("upstream/GB-01") for name in parts)


def test_the_chain_says_each_link_and_what_was_not_checked(issued: Certificate) -> None:
    report = json.loads(opened(pack(issued))["chain.json"])
    assert report["session"]["link"]["holds"] == "holds"
    assert {row["standard"] for row in report["standards"]} >= {"GB-01", "SR-01"}
    for row in report["standards"]:
        words = {link["code"]: link["holds"] for link in row["links"]}
        assert words["L2"] == "holds"
        assert {words[code] for code in ("L6", "L7", "L10")} == {"not checked yet"}


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
    assert JournalEntry.objects.get(act="certificates.export-evidence").actor_name == "The auditor"
    assert client.get(f"/certificates/{issued.pk}/evidence.zip").status_code == 405
    client.force_login(lab.floor)
    assert client.post(f"/certificates/{issued.pk}/evidence.zip").status_code == 403


def test_a_person_who_was_not_authorised_breaks_the_sessions_own_link(issued: Certificate, lab: Lab) -> None:
    assert link_of(issued.session).holds is True
    withdraw_authorisation(
        person=lab.technician, activity=Activity.MEASURE, family=lab.family, reason="never trained",
        by=laboratory.SETUP, now=issued.session.opened_at,
    )  # fmt: skip
    found = link_of(issued.session)
    assert found.holds is False
    assert "not authorised" in found.sentence
