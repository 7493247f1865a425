"""Photos at the bench: kept as they came, named by the record, shown to who reads records, refused with a sentence."""

from __future__ import annotations

import hashlib
import io
import json
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.storage import default_storage
from django.test import Client
from PIL import Image

from instruments.inventory.models.photos import CustodyPhoto
from instruments.inventory.operations import add_custody_photos
from instruments.inventory.pictures import MOST_BYTES, EvidenceTooLarge, NoPicture, look_at
from instruments.measuring.models.photos import Photo
from instruments.measuring.operations import PhotoData, add_photos
from instruments.measuring.operations.gate import SessionNotOpen
from instruments.measuring.operations.photos import UnknownLook
from instruments.measuring.record import record_of
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from tests.bench import MORNING, Player
from tests.instruments.measuring.pictures import picture, upload
from tests.laboratory import Lab

NOON = MORNING + timedelta(hours=3)


@pytest.fixture(autouse=True)
def _files(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def look(player: Player) -> str:
    """A look of the procedure."""
    from instruments.measuring.open_items import looks_of
    from instruments.procedures.queries import content_of

    return looks_of(player.run, content_of(player.session.revision))[0].code


def take(player: Player, content: bytes, look: str = "", **more: Any) -> Photo:
    (row,) = add_photos(
        run=player.run,
        pictures=[look_at(content, "damage.jpg")],
        data=PhotoData(look, more.get("note", "")),
        by=more.get("by", player.by),
        now=player.now,
    )
    return row


@pytest.mark.parametrize(("kind", "ending"), [("JPEG", "jpg"), ("PNG", "png"), ("WEBP", "webp")])
def test_a_photo_is_kept_byte_for_byte_and_its_preview_small(player: Player, kind: str, ending: str) -> None:
    content = picture(kind, (2000, 1000))
    row = take(player, content)
    assert row.file.endswith(f".{ending}")
    with default_storage.open(row.file) as kept:
        assert kept.read() == content
    assert row.sha256 == hashlib.sha256(content).hexdigest()
    assert (row.width, row.height, row.size_bytes) == (2000, 1000, len(content))
    with default_storage.open(row.preview) as small, Image.open(small) as drawn:
        assert (drawn.format, drawn.size) == ("JPEG", (480, 240))


def test_what_is_hidden_in_a_photo_stays_in_it_and_out_of_the_preview_which_stands_upright(
    player: Player,
) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif[0x013B] = "somebody"
    row = take(player, picture(size=(200, 100), exif=exif))
    with default_storage.open(row.file) as kept:
        assert b"somebody" in kept.read()
    with default_storage.open(row.preview) as small:
        content = small.read()
    assert b"somebody" not in content
    with Image.open(io.BytesIO(content)) as drawn:
        assert drawn.size == (100, 200)


@pytest.mark.parametrize(
    "content",
    [b"", b"no picture", picture()[:900], b"<svg xmlns='http://www.w3.org/2000/svg'/>", picture("BMP")],
)
def test_what_is_no_picture_gets_a_sentence(content: bytes) -> None:
    with pytest.raises(NoPicture, match=r"“x\.jpg” is no JPEG, PNG or WebP picture"):
        look_at(content, "x.jpg")


def test_what_is_too_large_gets_a_sentence() -> None:
    with pytest.raises(EvidenceTooLarge, match=r"has 15\.0 MB; at most 15 MB"):
        look_at(b"x" * (MOST_BYTES + 1), "x.jpg")
    with pytest.raises(EvidenceTooLarge, match="has 64 million dots"):
        look_at(picture("PNG", (8000, 8000)), "x.png")


def test_the_same_picture_at_the_same_look_is_the_same_photo(player: Player, look: str) -> None:
    first, again, other = (take(player, picture(), one) for one in (look, look, ""))
    assert first == again
    assert other != first
    assert Photo.objects.count() == 2


def test_the_record_names_photos_only_where_there_are_any(player: Player, look: str) -> None:
    assert "photos" not in json.loads(record_of(player.session))
    row = take(player, picture(), look, note="nick near the tip")
    (told,) = json.loads(record_of(player.session))["photos"]
    assert (told["sha256"], told["look"], told["note"]) == (row.sha256, look, "nick near the tip")
    entry = JournalEntry.objects.filter(act="measuring.add-photos").get()
    assert entry.subject == f"session:{player.session.pk}"
    assert row.sha256 in entry.canonical


def test_photos_taken_at_receipt_belong_to_the_record_but_not_those_that_came_after_opening(
    player: Player, lab: Lab
) -> None:
    event = player.session.gauge.custody.get(kind="received")
    for minutes, colour in ((0, "red"), (121, "blue")):
        now = MORNING + timedelta(minutes=minutes)
        pictures = [look_at(picture(colour=colour), "x")]
        add_custody_photos(event=event, pictures=pictures, by=lab.technician, now=now)
    (told,) = json.loads(record_of(player.session))["received_photos"]
    assert told["sha256"] == hashlib.sha256(picture(colour="red")).hexdigest()


def test_refusals(player: Player, lab: Lab) -> None:
    with pytest.raises(UnknownLook, match="no look “moon”"):
        take(player, picture(), "moon")
    with pytest.raises(NotAllowed):
        take(player, picture(), by=lab.auditor)
    player.begin()
    player.read_off()
    player.finish()
    with pytest.raises(SessionNotOpen, match="submitted"):
        take(player, picture())
    assert not Photo.objects.exists()


@pytest.fixture
def now() -> Any:
    with time_machine.travel(NOON, tick=True) as traveller:
        yield traveller


@pytest.fixture
def technician(lab: Lab, client: Client, now: Any) -> Client:
    client.force_login(lab.technician)
    return client


def test_photos_are_attached_by_a_plain_form_and_a_bad_one_keeps_no_good_one_back(
    technician: Client, player: Player, look: str
) -> None:
    address = f"/bench/session/{player.session.pk}/photos/"
    sent = {
        "look": look,
        "photos": [upload(picture()), upload(picture("PNG")), upload(b"x", "notes.jpg")],
        "note": "nick",
    }
    answer = technician.post(address, sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "“notes.jpg” is no JPEG, PNG or WebP picture" in page
    assert Photo.objects.count() == 2
    assert page.count("preview.jpg") == 2
    assert "nick" in page
    answer = technician.post(address, {"look": look, "photos": upload(picture(colour="red"))}, follow=True)
    page = answer.content.decode()
    assert "1 photo is kept with the session." in page
    assert page.count("preview.jpg") == 3
    assert technician.post(address, {"look": look}).status_code == 422


def test_a_script_is_told_by_the_photos_own_id(technician: Client, player: Player) -> None:
    address, accept = f"/bench/session/{player.session.pk}/photos/", {"Accept": "application/json"}

    def send(content: bytes, **more: Any) -> Any:
        fields = {"photos": upload(content), "client_id": "abc", "run": player.run.pk, "look": "", **more}
        answer = technician.post(address, fields, headers=accept)
        assert answer.status_code == 200
        return answer.json()

    told = send(picture())
    assert (told["id"], told["refused"]) == ("abc", [])
    assert told["kept"][0]["sha256"] == hashlib.sha256(picture()).hexdigest()
    assert send(picture())["kept"] == told["kept"], "sent twice it is one photo"
    assert send(b"x")["refused"] == [
        "“damage.jpg” is no JPEG, PNG or WebP picture that can be read. Take the photo again, or save it as JPEG."
    ]
    assert "Select a valid choice" in send(picture(), look="moon")["refused"][0]
    player.session.state = "void"
    player.session.save(update_fields=["state"])
    assert "is void: nothing can be added" in send(picture(colour="red"))["refused"][0]


def test_a_photo_is_shown_to_who_reads_records_and_only_if_it_is_the_one_that_came(
    technician: Client, player: Player, lab: Lab
) -> None:
    content = picture()
    row = take(player, content)
    address = f"/sessions/photos/{row.pk}/"
    reader = Client()
    assert reader.get(address).status_code == 302
    reader.force_login(lab.floor)
    assert reader.get(address).status_code == 403
    reader.force_login(lab.auditor)
    answer = reader.get(address)
    assert answer.content == content
    assert answer["Content-Type"] == "image/jpeg"
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert reader.get(f"{address}preview.jpg")["Content-Type"] == "image/jpeg"
    page = reader.get(f"/sessions/{player.session.pk}/").content.decode()
    assert f"{address}preview.jpg" in page
    with default_storage.open(row.file, "wb") as kept:
        kept.write(picture(colour="red"))
    answer = reader.get(address)
    assert answer.status_code == 409
    assert "its file was changed since it was taken" in answer.content.decode()
    default_storage.delete(row.file)
    assert "is missing from the store" in reader.get(address).content.decode()


def test_a_gauge_is_received_with_photos_of_its_damage(technician: Client, lab: Lab, gauge: Any) -> None:
    form = {"condition": "tip bent", "at": "2025-06-03T09:30", "photos": [upload(b"x", "bad.jpg")]}
    address = f"/gauges/{gauge.pk}/receive/"
    answer = technician.post(address, form)
    assert answer.status_code == 422
    assert "“bad.jpg” is no JPEG" in answer.content.decode()
    assert not gauge.custody.exists(), "nothing is received half"
    answer = technician.post(
        address, {**form, "photos": [upload(picture()), upload(picture("PNG"))]}, follow=True
    )
    row, _other = CustodyPhoto.objects.order_by("pk")
    assert row.event.kind == "received"
    assert f"/gauges/custody-photos/{row.pk}/preview.jpg" in answer.content.decode()
    assert technician.get(f"/gauges/custody-photos/{row.pk}/").content == picture()
