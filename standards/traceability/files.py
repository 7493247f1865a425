"""The file of a certificate: what is let in, under which name it is kept, and whether it is still the same.

Lives here: looking at bytes. What a file means for a chain is in ``queries``; who may fetch it is in ``views``.
"""

from __future__ import annotations

import hashlib
import io
import re
import secrets
from dataclasses import dataclass
from typing import ClassVar

from django.core.files.storage import default_storage
from PIL import Image, UnidentifiedImageError

from labsys.errors import LabError

LARGEST_BYTES = 20 * 1024 * 1024
LARGEST_PIXELS = 200_000_000
TYPES = {"pdf": "application/pdf", "png": "image/png", "jpg": "image/jpeg"}
_PDF_HEAD = re.compile(rb"%PDF-[12]\.\d")
# Readers look for the end mark in the last kilobyte (PDF 32000-1, annex H.3): bytes behind it do no harm.
_PDF_END, _PDF_END_WITHIN = b"%%EOF", 1024


class FileNotAccepted(LabError, ValueError):
    """The content is no PDF, PNG or JPEG, whatever its name says."""

    code: ClassVar[str] = "file-not-accepted"
    sentence: ClassVar[str] = (
        "“{name}” is no PDF, PNG or JPEG file that can be read{why}. Scan the certificate again, or save it as PDF."
    )
    field: ClassVar[str | None] = "file"


class FileTooLarge(LabError, ValueError):
    """The file is larger than what is kept."""

    code: ClassVar[str] = "file-too-large"
    sentence: ClassVar[str] = (
        "“{name}” has {found} MB; at most {most} MB are kept. Scan it with fewer dots per inch."
    )
    field: ClassVar[str | None] = "file"


@dataclass(frozen=True)
class ReceivedFile:
    """A file as it came: the name it had, for messages only, and its bytes."""

    name: str
    content: bytes


@dataclass(frozen=True)
class Inspected:
    """What looking at the bytes said: the ending it is kept with, and its SHA-256."""

    ending: str
    sha256: str

    def new_name(self) -> str:
        """Draw a name for it that tells nothing and can't be guessed."""
        return f"{secrets.token_hex(16)}.{self.ending}"


def inspect(file: ReceivedFile) -> Inspected:
    """Tell what a file is by its content; raises FileTooLarge and FileNotAccepted."""
    if len(file.content) > LARGEST_BYTES:
        most = LARGEST_BYTES // 1024**2
        raise FileTooLarge(name=file.name, found=f"{len(file.content) / 1024**2:.1f}", most=most)
    return Inspected(_ending(file), hashlib.sha256(file.content).hexdigest())


def fault(name: str | None, sha256: str) -> str | None:
    """Say what is wrong with a kept file, None when it is the one that came: missing, unreadable, changed."""
    if not name:
        return "no file of it is on record; attach the scan"
    try:
        with default_storage.open(name, "rb") as kept:
            found = hashlib.sha256(kept.read()).hexdigest()
    except FileNotFoundError:
        return "its file is missing from the store; restore it from the backup"
    except OSError as problem:
        return f"its file can't be read ({problem.strerror}); restore it from the backup"
    return (
        None if found == sha256 else "its file was changed since it was received; restore it from the backup"
    )


def media_type(name: str) -> str:
    """Give the media type that a kept file is served with."""
    return TYPES[name.rpartition(".")[2]]


def _ending(file: ReceivedFile) -> str:
    if _PDF_HEAD.match(file.content):
        if _PDF_END not in file.content[-_PDF_END_WITHIN:]:
            raise FileNotAccepted(name=file.name, why=": the PDF ends before its end")
        return "pdf"
    try:
        with Image.open(io.BytesIO(file.content), formats=("PNG", "JPEG")) as image:
            kind, (width, height) = image.format, image.size
            if width * height > LARGEST_PIXELS:
                raise FileNotAccepted(name=file.name, why=f": {width} × {height} dots are too many")
            image.load()
    except (
        UnidentifiedImageError,
        OSError,
        SyntaxError,
        ValueError,
        Image.DecompressionBombError,
    ) as problem:
        if isinstance(problem, FileNotAccepted):
            raise
        raise FileNotAccepted(name=file.name, why="") from problem
    return "png" if kind == "PNG" else "jpg"
