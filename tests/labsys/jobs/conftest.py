"""A real mail server on a free port, and messages to send."""

from __future__ import annotations

import asyncio
import email
import socket
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from email.message import Message
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from labsys.jobs.notices import Draft


@dataclass
class Post:
    """What a mail server took, and what it is told to answer instead of taking: by address."""

    taken: list[Envelope] = field(default_factory=list)
    answers: dict[str, str] = field(default_factory=dict)
    port: int = 0

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        answer = self.answers.get(address)
        if answer is not None:
            return answer
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        answer = self.answers.get("data")
        if answer == "hang up":
            # Taken, and the line breaks before the sender hears it.
            self.taken.append(envelope)
            assert isinstance(server.transport, asyncio.WriteTransport)
            server.transport.abort()
            return ""
        if answer is not None:
            return answer
        self.taken.append(envelope)
        return "250 OK"

    def mails(self) -> list[Message]:
        return [email.message_from_bytes(envelope.original_content or b"") for envelope in self.taken]


@pytest.fixture
def free_port() -> int:
    """A port nobody listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def post(settings: Any, free_port: int) -> Iterator[Post]:
    """A mail server that the program's settings point at."""
    found = Post(port=free_port)
    controller = Controller(found, hostname="127.0.0.1", port=free_port)
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", free_port
    yield found
    controller.stop()


@pytest.fixture
def draft() -> Callable[..., Draft]:
    def make(**changes: str) -> Draft:
        said = {
            "recipient": "person:7",
            "address": "shift.lead@plant.example",
            "kind": "digest",
            "subject": "digest",
            "period": "2026-11-25",
            "title": "2 gauges are due",
            "body": "CAL-0001 is due on 2026-12-25.",
        }
        return Draft(**{**said, **changes})

    return make
