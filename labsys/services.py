"""Turns the addresses of other programs (database, cache, broker, mail) into the form Django and Celery want.

Only settings.py and celery.py call this. An empty address means the embedded form, which needs no server.
"""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import environ


def host(url: str) -> str:
    """Give the host name inside an address."""
    return urlsplit(url).hostname or ""


def kept_secret(path: Path) -> str:
    """Give the key kept at ``path``, making it first where it is missing; two starts at once agree on one key."""
    if not path.exists():
        fresh = path.with_name(f"{path.name}.{os.getpid()}")
        fresh.touch(mode=0o600)
        fresh.write_text(secrets.token_urlsafe(50), encoding="ascii")
        try:
            os.link(fresh, path)
        except FileExistsError:
            pass  # Another process was first; its key is the one that counts.
        finally:
            fresh.unlink()
    return path.read_text(encoding="ascii").strip()


def database(url: str, *, sqlite: dict[str, Any]) -> dict[str, Any]:
    """Give Django's description of the database; ``sqlite`` where no address is set or to fill in a file's options."""
    if not url:
        return sqlite
    found = dict(environ.Env.db_url_config(url))
    if url.startswith("sqlite"):
        return {**sqlite, "NAME": found["NAME"]}
    # Connecting costs about as much as a page's queries, so threads keep theirs; a check before use survives a restart.
    return {**found, "CONN_MAX_AGE": None, "CONN_HEALTH_CHECKS": True}


def cache(url: str) -> dict[str, Any]:
    """Give Django's description of the cache that log-in limits count in."""
    if not url:
        return {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "labsys"}
    return {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": url, "KEY_PREFIX": "labsys"}


@dataclass(frozen=True)
class Mail:
    """Where mails go: a server, or a folder while there is none."""

    backend: str
    folder: str
    host: str = ""
    port: int = 25
    user: str = ""
    password: str = ""
    starttls: bool = False
    tls: bool = False


def mail(url: str, *, folder: Path) -> Mail:
    """Give the mail settings for a server's address, or for ``folder`` where it is empty."""
    if not url:
        return Mail(backend="django.core.mail.backends.filebased.EmailBackend", folder=str(folder))
    found = environ.Env.email_url_config(url)
    return Mail(
        backend="django.core.mail.backends.smtp.EmailBackend",
        folder=str(folder),
        host=found["EMAIL_HOST"] or "127.0.0.1",
        port=found["EMAIL_PORT"] or 25,
        user=found["EMAIL_HOST_USER"] or "",
        password=found["EMAIL_HOST_PASSWORD"] or "",
        starttls=bool(found.get("EMAIL_USE_TLS")),
        tls=bool(found.get("EMAIL_USE_SSL")),
    )


def celery(url: str, var: Path) -> dict[str, Any]:
    """Give Celery's settings: Redis, or a broker that is a folder.

    Results are never read back (the database says what was done), so none are stored.
    """
    common: dict[str, Any] = {
        "timezone": "UTC",
        "task_ignore_result": True,
        "task_acks_late": True,
        "worker_prefetch_multiplier": 1,
        "worker_hijack_root_logger": False,
        "worker_max_tasks_per_child": 200,
        "broker_connection_retry_on_startup": True,
        "beat_schedule_filename": str(var / "clock" / "schedule"),
    }
    if url:
        return {**common, "broker_url": url}
    messages = str(var / "broker")
    options = {
        "data_folder_in": messages,
        "data_folder_out": messages,
        "control_folder": str(var / "broker" / "control"),
        "polling_interval": 0.2,  # seconds; the default of 1 s is felt when a certificate is waited for
    }
    return {**common, "broker_url": "filesystem://localhost//", "broker_transport_options": options}
