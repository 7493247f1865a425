"""Hands the ledger's messages to the mail server, one at a time, each claimed first and written down after.

What went wrong decides what becomes of a message: before the hand-over, or refused in words, nothing was sent and it
is tried again; refused for good, a person decides; a connection that broke in between leaves it doubtful.
"""

from __future__ import annotations

import logging
import smtplib
from dataclasses import dataclass
from datetime import datetime

from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend

from labsys.jobs import notices
from labsys.jobs.models import Notice
from labsys.jobs.notices import Clock

log = logging.getLogger(__name__)
PERMANENT = 500
_ANSWERS = (smtplib.SMTPResponseException, smtplib.SMTPRecipientsRefused, smtplib.SMTPNotSupportedError)


@dataclass
class Sent:
    """What one round did: how many went out, were put back, refused, or became doubtful."""

    sent: int = 0
    put_back: int = 0
    refused: int = 0
    doubtful: int = 0

    def count(self, outcome: str) -> None:
        """Count one outcome; a claim that was lost to another sender is counted there."""
        name = "put_back" if outcome == "unreachable" else outcome
        if name != "lost":
            setattr(self, name, getattr(self, name) + 1)


def send_ready(*, clock: Clock, sender: str, most: int = 200) -> Sent:
    """Send what is ready, at most ``most`` messages; any number of senders may do so at once.

    ``clock`` gives the time at each step, ``sender`` names who claims (a process and a round of it).
    """
    done = Sent(doubtful=notices.call_doubtful(clock()))
    for _ in range(most):
        notice = notices.claim(clock(), sender)
        if notice is None:
            break
        outcome = _send_one(notice, clock)
        done.count(outcome)
        if outcome == "unreachable":
            break  # the others needn't be tried in this round
    return done


def _send_one(notice: Notice, clock: Clock) -> str:
    connection = get_connection()
    try:
        connection.open()
    except (OSError, smtplib.SMTPException) as problem:
        notices.put_back(notice, clock(), _say(problem))
        return "unreachable"
    try:
        return _hand_over(notice, connection, clock)
    finally:
        _close(connection)


def _hand_over(notice: Notice, connection: BaseEmailBackend, clock: Clock) -> str:
    if not notices.begin_hand_over(notice, clock()):
        return "lost"
    try:
        taken = connection.send_messages([as_mail(notice)])
    except (*_ANSWERS, ValueError) as problem:
        return _answered(notice, problem, clock())
    except (OSError, smtplib.SMTPException) as problem:
        # Broken off in the middle: the server may have taken it and its answer got lost.
        notices.record_doubtful(notice, _say(problem))
        return "doubtful"
    if not taken:
        notices.record_refused(notice, "The mail program took no message for this address.")
        return "refused"
    notices.record_sent(notice, clock())
    return "sent"


def _answered(notice: Notice, problem: Exception, now: datetime) -> str:
    """Put back or give up: the server answered, or the message couldn't even be written, so nothing was sent."""
    if _code(problem) >= PERMANENT:
        notices.record_refused(notice, _say(problem))
        return "refused"
    notices.put_back(notice, now, _say(problem))
    return "put_back"


def _code(problem: Exception) -> int:
    if isinstance(problem, smtplib.SMTPResponseException):
        return int(problem.smtp_code)
    if isinstance(problem, smtplib.SMTPRecipientsRefused):
        return max((int(code) for code, _ in problem.recipients.values()), default=PERMANENT)
    return PERMANENT


def _say(problem: Exception) -> str:
    return f"{type(problem).__name__}: {problem}"


def _close(connection: BaseEmailBackend) -> None:
    """Say goodbye; a server that has taken the message and then hangs up changes nothing."""
    try:
        connection.close()
    except (OSError, smtplib.SMTPException) as problem:
        log.warning("the mail server ended the connection badly: %s", _say(problem))


def as_mail(notice: Notice) -> EmailMessage:
    """Write a message of the ledger as a mail: plain text, with its fixed Message-ID and no answer wanted by robots."""
    return EmailMessage(
        subject=notices.header(notice.title),
        body=notice.body,
        to=[notice.address],
        headers={"Message-ID": notice.message_id, "Auto-Submitted": "auto-generated"},
    )
