"""Acts on a gauge's photo. What is stored is drawn anew from the picture sent, so nothing hidden in it is kept."""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from django.core.files.base import ContentFile
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from instruments.inventory.access import MANAGE_GAUGES
from instruments.inventory.models import Gauge
from instruments.inventory.operations.reasons import given
from labsys.errors import LabError
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require

MOST_BYTES = 10 * 1024 * 1024
MOST_PIXELS = 50_000_000
EDGE = 1600
FORMATS = ("JPEG", "PNG", "WEBP")


class PhotoTooLarge(LabError, ValueError):
    """The picture is larger than any photo of a gauge needs to be."""

    code: ClassVar[str] = "photo-too-large"
    sentence: ClassVar[str] = (
        "The photo has {found}; the most is {most}. Take it smaller, or cut it to the gauge."
    )
    field: ClassVar[str | None] = "photo"


class NotAPhoto(LabError, ValueError):
    """The file is no picture, whatever its name says."""

    code: ClassVar[str] = "not-a-photo"
    sentence: ClassVar[str] = (
        "The file is no JPEG, PNG or WebP picture that can be read. Take the photo again."
    )
    field: ClassVar[str | None] = "photo"


class NoPhoto(LabError):
    """There is no photo to remove."""

    code: ClassVar[str] = "no-photo"
    sentence: ClassVar[str] = "{tag} has no photo, so there is nothing to remove."


@dataclass(frozen=True)
class Photo:
    """A picture drawn anew: JPEG, upright, at most 1600 pixels long, without anything but its pixels."""

    jpeg: bytes

    @property
    def name(self) -> str:
        """Name the file by its content, so that an old photo is never overwritten by a new one."""
        return f"{hashlib.sha256(self.jpeg).hexdigest()[:32]}.jpg"


def read_photo(content: bytes) -> Photo:
    """Read a picture by what it is, not by its name, and draw it anew; raises PhotoTooLarge, NotAPhoto."""
    if len(content) > MOST_BYTES:
        raise PhotoTooLarge(found=f"{len(content) / 2**20:.1f} MB", most=f"{MOST_BYTES // 2**20} MB")
    # The library that sets the certificates lets cut-off pictures pass, for the whole process.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore", Image.DecompressionBombWarning
            )  # the limit below is the stricter one
            found = Image.open(io.BytesIO(content), formats=FORMATS)
        _refuse_pixels(found)
        upright = ImageOps.exif_transpose(found).convert("RGB")
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        OSError,
        SyntaxError,
        ValueError,
    ) as problem:
        if isinstance(problem, LabError):
            raise
        raise NotAPhoto() from problem
    upright.thumbnail((EDGE, EDGE))
    drawn = io.BytesIO()
    upright.save(drawn, "JPEG", quality=85, optimize=True)
    return Photo(drawn.getvalue())


def _refuse_pixels(found: Image.Image) -> None:
    """Refuse by the size in the head, before a pixel is unpacked."""
    pixels = found.width * found.height
    if pixels > MOST_PIXELS:
        raise PhotoTooLarge(found=f"{pixels // 10**6} million pixels", most=f"{MOST_PIXELS // 10**6} million")


@act("inventory.set-photo")
def set_photo(*, gauge: Gauge, photo: Photo, by: Acting, now: datetime) -> Gauge:
    """Put a photo on a gauge's page; the one before stays on file for the days it was shown."""
    require(by, MANAGE_GAUGES)
    row = Gauge.objects.select_for_update().get(pk=gauge.pk)
    before = row.photo.name or ""
    row.photo.save(f"{row.pk}-{photo.name}", ContentFile(photo.jpeg), save=False)
    row.save(update_fields=["photo"])
    note(f"gauge:{row.pk}", before={"photo": before}, after={"photo": row.photo.name})
    return row


@act("inventory.remove-photo")
def remove_photo(*, gauge: Gauge, reason: str, by: Acting, now: datetime) -> Gauge:
    """Take the photo off a gauge's page, with the reason; raises NoPhoto, ReasonMissing."""
    require(by, MANAGE_GAUGES)
    subject = f"gauge:{gauge.pk}"
    why = given(reason, what="a photo", subject=subject)
    row = Gauge.objects.select_for_update().get(pk=gauge.pk)
    if not row.photo:
        raise NoPhoto(tag=gauge.tag.text, subject=subject)
    before = row.photo.name
    row.photo = ""
    row.save(update_fields=["photo"])
    note(subject, reason=why, before={"photo": before}, after={"photo": ""})
    return row
