"""A file that was sent with a form that had to be mended: kept for a day, so that nobody chooses it twice.

A browser can't be given a chosen file back. The form carries a signed word instead, which only the person who sent the
file can redeem. Nothing here is a record; what is forgotten is swept away.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.core import signing
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from labsys.accounts.models import Person
from standards.traceability.files import ReceivedFile, inspect

FOLDER = "pending"
LASTS = timedelta(days=1)
_SALT = "standards.pending"


def keep(file: ReceivedFile, person: Person) -> str:
    """Keep a file and give the word for it; raises what ``inspect`` raises."""
    name = default_storage.save(f"{FOLDER}/{inspect(file).new_name()}", ContentFile(file.content))
    return signing.dumps({"name": name, "called": file.name, "person": person.pk}, salt=_SALT)


def redeem(word: str, person: Person) -> ReceivedFile | None:
    """Give the kept file back; None when the word is old, somebody else's, or the file was swept away."""
    told = _read(word)
    if told is None or told["person"] != person.pk:
        return None
    try:
        with default_storage.open(str(told["name"]), "rb") as kept:
            return ReceivedFile(str(told["called"]), kept.read())
    except FileNotFoundError:
        return None


def discard(word: str) -> None:
    """Drop a kept file; a word that means nothing drops nothing."""
    told = _read(word)
    if told is not None:
        default_storage.delete(str(told["name"]))


def sweep(now: datetime) -> int:
    """Drop every file kept longer than a day; gives how many."""
    if not default_storage.exists(FOLDER):
        return 0
    _folders, names = default_storage.listdir(FOLDER)
    paths = [f"{FOLDER}/{name}" for name in names]
    old = [path for path in paths if default_storage.get_modified_time(path) < now - LASTS]
    for path in old:
        default_storage.delete(path)
    return len(old)


def _read(word: str) -> dict[str, str | int] | None:
    try:
        told: dict[str, str | int] = signing.loads(word, salt=_SALT, max_age=LASTS)
    except signing.BadSignature:
        return None
    return told
