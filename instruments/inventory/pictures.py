"""A photo kept as evidence: looked at by what it is, kept byte for byte as it came, with a small preview drawn anew.

Lives here: bytes and files. What a photo shows, and of what, stands in rows; who may see it is in views.
"""

from __future__ import annotations

import hashlib
import io
import secrets
import warnings
from dataclasses import dataclass
from typing import Any, ClassVar

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from labsys.errors import LabError

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 50_000_000
PREVIEW_EDGE = 480
TYPES = {"JPEG": ("jpg", "image/jpeg"), "PNG": ("png", "image/png"), "WEBP": ("webp", "image/webp")}
_UNREADABLE = (UnidentifiedImageError, Image.DecompressionBombError, OSError, SyntaxError, ValueError)


class EvidenceTooLarge(LabError, ValueError):
    """A picture larger than what is kept."""

    code: ClassVar[str] = "photo-too-large"
    sentence: ClassVar[str] = (
        "“{name}” has {found}; at most {most} are kept. Set the camera to a smaller size and take it again."
    )
    field: ClassVar[str | None] = "photos"


class NoPicture(LabError, ValueError):
    """A file that is no picture, whatever its name says."""

    code: ClassVar[str] = "no-picture"
    sentence: ClassVar[str] = (
        "“{name}” is no JPEG, PNG or WebP picture that can be read. Take the photo again, or save it as JPEG."
    )
    field: ClassVar[str | None] = "photos"


@dataclass(frozen=True)
class Picture:
    """A picture as it came, with what looking at it said, and its preview: JPEG, upright, nothing but its pixels."""

    name: str
    content: bytes
    kind: str
    width: int
    height: int
    preview: bytes

    @property
    def sha256(self) -> str:
        """Give the hash of the bytes as they came."""
        return hashlib.sha256(self.content).hexdigest()


def look_at(content: bytes, name: str) -> Picture:
    """Decode a picture whole; raises EvidenceTooLarge, NoPicture."""
    if len(content) > MOST_BYTES:
        raise EvidenceTooLarge(
            name=name, found=f"{len(content) / 2**20:.1f} MB", most=f"{MOST_BYTES // 2**20} MB"
        )
    # The library that sets the certificates lets cut-off pictures pass, for the whole process.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the limit below is stricter
            found = Image.open(io.BytesIO(content), formats=tuple(TYPES))
        _refuse_pixels(found, name)
        upright = ImageOps.exif_transpose(found)
        return Picture(name, content, str(found.format), found.width, found.height, _drawn(upright))
    except _UNREADABLE as problem:
        if isinstance(problem, LabError):
            raise
        raise NoPicture(name=name) from problem


def _refuse_pixels(found: Image.Image, name: str) -> None:
    """Refuse by the size in the head, before a pixel is unpacked."""
    pixels = found.width * found.height
    if pixels > MOST_PIXELS:
        raise EvidenceTooLarge(
            name=name, found=f"{pixels // 10**6} million dots", most=f"{MOST_PIXELS // 10**6} million"
        )


def _drawn(upright: Image.Image) -> bytes:
    small = upright.convert("RGB")
    small.thumbnail((PREVIEW_EDGE, PREVIEW_EDGE))
    drawn = io.BytesIO()
    small.save(drawn, "JPEG", quality=80, optimize=True)
    return drawn.getvalue()


def put_away(picture: Picture) -> dict[str, Any]:
    """Keep both files under names that tell nothing, and give the columns of their row.

    Where the act around it is refused afterwards, files without a row stay behind; that loses nothing.
    """
    ending, media_type = TYPES[picture.kind]
    stem = f"photos/{secrets.token_hex(16)}"
    return {
        "file": default_storage.save(f"{stem}.{ending}", ContentFile(picture.content)),
        "preview": default_storage.save(f"{stem}-small.jpg", ContentFile(picture.preview)),
        "sha256": picture.sha256,
        "media_type": media_type,
        "size_bytes": len(picture.content),
        "width": picture.width,
        "height": picture.height,
    }


def read_kept(name: str, sha256: str) -> tuple[bytes | None, str]:
    """Read a kept file and say what is wrong with it; the fault is empty for the one that came."""
    try:
        with default_storage.open(name, "rb") as kept:
            content: bytes = kept.read()
    except FileNotFoundError:
        return None, "its file is missing from the store; restore it from the backup"
    except OSError as problem:
        return None, f"its file can't be read ({problem.strerror}); restore it from the backup"
    if hashlib.sha256(content).hexdigest() != sha256:
        return content, "its file was changed since it was taken; restore it from the backup"
    return content, ""
