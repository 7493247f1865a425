"""Small pictures for tests, made here."""

from __future__ import annotations

import io
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image


def picture(
    kind: str = "JPEG", size: tuple[int, int] = (640, 480), colour: str = "teal", **more: Any
) -> bytes:
    """Draw a picture of one colour."""
    drawn = io.BytesIO()
    Image.new("RGB", size, colour).save(drawn, kind, **more)
    return drawn.getvalue()


def upload(content: bytes, name: str = "damage.jpg") -> SimpleUploadedFile:
    """Give bytes as a browser sends a file, whatever it calls their type."""
    return SimpleUploadedFile(name, content, "text/html")
