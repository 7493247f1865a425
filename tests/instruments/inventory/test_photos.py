"""Photos: judged by what they are, drawn anew, never overwritten."""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageFile

from instruments.inventory.models import Gauge
from instruments.inventory.operations.photos import (
    EDGE,
    NoPhoto,
    NotAPhoto,
    PhotoTooLarge,
    read_photo,
    remove_photo,
    set_photo,
)
from instruments.inventory.queries import description_at
from labsys.accounts.models import Person

SECRET = b"where the photo was taken"


def picture(kind: str = "PNG", size: tuple[int, int] = (40, 30), **more: Any) -> bytes:
    drawn = io.BytesIO()
    Image.new("RGB", size, "white").save(drawn, kind, **more)
    return drawn.getvalue()


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_pictures_become_plain_jpeg(kind: str) -> None:
    redrawn = Image.open(io.BytesIO(read_photo(picture(kind)).jpeg))
    assert (redrawn.format, redrawn.size) == ("JPEG", (40, 30))


def test_a_large_one_is_made_smaller() -> None:
    redrawn = Image.open(io.BytesIO(read_photo(picture(size=(4000, 2000))).jpeg))
    assert redrawn.size == (EDGE, EDGE // 2)


def test_what_hides_in_it_goes() -> None:
    exif = Image.Exif()
    exif[0x010E] = SECRET.decode()
    sent = picture("JPEG", exif=exif) + b"<script>"
    assert SECRET in sent
    kept = read_photo(sent).jpeg
    assert SECRET not in kept and b"<script>" not in kept


def test_it_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera was turned by a quarter
    redrawn = Image.open(io.BytesIO(read_photo(picture("JPEG", exif=exif)).jpeg))
    assert redrawn.size == (30, 40)


@pytest.mark.parametrize(
    "content",
    [b"", b"GIF89a", b"<svg xmlns='x'/>", picture("GIF"), picture("TIFF"), picture()[:60]],
    ids=["empty", "short gif", "svg", "gif", "tiff", "cut off"],
)
def test_anything_else_is_no_photo(content: bytes) -> None:
    with pytest.raises(NotAPhoto):
        read_photo(content)


def test_a_cut_off_picture_is_refused_after_a_document_was_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    with pytest.raises(NotAPhoto):
        read_photo(picture()[:60])


def test_too_large_is_refused_before_it_is_unpacked() -> None:
    with pytest.raises(PhotoTooLarge, match="MB"):
        read_photo(b"\0" * (10 * 2**20 + 1))
    with pytest.raises(PhotoTooLarge, match="million pixels"):
        read_photo(picture("PNG", (10_000, 6_000)))


def test_an_old_photo_stays_for_its_days(
    gauge: Gauge, technician: Person, now: datetime, files: Path
) -> None:
    day = timedelta(days=1)
    set_photo(gauge=gauge, photo=read_photo(picture()), by=technician, now=now + day)
    set_photo(gauge=gauge, photo=read_photo(picture(size=(60, 20))), by=technician, now=now + 2 * day)
    gone = remove_photo(gauge=gauge, reason="shows another gauge", by=technician, now=now + 3 * day)
    assert not gone.photo
    shown = [description_at(gone, now + number * day) for number in range(4)]
    names = [one["photo"] for one in shown if one is not None]
    assert names[0] == names[3] == ""
    assert len({*names[1:3]}) == 2
    assert all((files / name).exists() for name in names[1:3])
    with pytest.raises(NoPhoto):
        remove_photo(gauge=gauge, reason="again", by=technician, now=now + 4 * day)
