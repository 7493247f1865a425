"""Photos in the evidence: those that the signed record names, byte for byte, and in words what is wrong with one."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile

import pytest
from django.core.files.storage import default_storage

from instruments.certificates.evidence import pack
from instruments.certificates.models import Certificate
from instruments.certificates.operations import render
from instruments.inventory.pictures import look_at
from instruments.measuring.models.photos import Photo
from instruments.measuring.operations import PhotoData, add_photos
from tests.bench import Player
from tests.instruments.certificates.conftest import sign
from tests.instruments.measuring.pictures import picture
from tests.laboratory import Lab


@pytest.fixture
def issued(type_is_built: None, player: Player, lab: Lab) -> Certificate:
    """A certificate from a session with two photos."""
    player.begin()
    pictures = [look_at(picture(kind), "x") for kind in ("JPEG", "PNG")]
    add_photos(run=player.run, pictures=pictures, data=PhotoData(), by=player.by, now=player.now)
    player.read_off()
    signed = sign(lab, player.finish())
    return render(signed, signed.numbered_at)


def opened(certificate: Certificate) -> tuple[dict[str, bytes], list[dict[str, str]]]:
    with zipfile.ZipFile(io.BytesIO(pack(certificate))) as archive:
        parts = {name: archive.read(name) for name in archive.namelist() if name.startswith("photos/")}
        return parts, json.loads(archive.read("manifest.json"))["faults"]


def test_the_photos_that_the_record_names_lie_beside_it(issued: Certificate) -> None:
    parts, faults = opened(issued)
    named = [row["sha256"] for row in json.loads(issued.submission.record)["photos"]]
    assert {hashlib.sha256(content).hexdigest() for content in parts.values()} == set(named)
    assert {name.rpartition(".")[2] for name in parts} == {"jpg", "png"}
    assert faults == []


def test_a_photo_that_was_changed_or_lost_is_named(issued: Certificate) -> None:
    changed, lost = Photo.objects.order_by("pk")
    with default_storage.open(changed.file, "wb") as kept:
        kept.write(b"other")
    default_storage.delete(lost.file)
    parts, faults = opened(issued)
    assert list(parts.values()) == [b"other"]
    assert [fault["sentence"] for fault in faults] == [
        f"Photo {changed.sha256[:16]}: its file was changed since it was taken; restore it from the backup.",
        f"Photo {lost.sha256[:16]}: its file is missing from the store; restore it from the backup.",
    ]
