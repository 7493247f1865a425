"""Signing from a page: what keeps a submission from being signed, and the signature with the password beside it.

Lives here: what a form of one page needs. May not live here: the act itself (operations/), a view.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from instruments.certificates.document import Document, missing_items
from instruments.certificates.forms import SignForm
from instruments.certificates.models import Certificate
from instruments.certificates.operations import sign_off
from instruments.measuring.models import Submission
from labsys.accounts.models import Person
from labsys.accounts.operations import sign_in_again
from labsys.errors import LabError
from labsys.pages.refusals import attach

FROM_NUMBER = "4 "
"""The one item that a draft lacks by its nature."""


class NotWhatWasShown(LabError):
    """What would be signed isn't what was read."""

    code: ClassVar[str] = "not-what-was-shown"
    sentence: ClassVar[str] = "This submission was handed in anew while you read. Read it again, then sign."


def missing_in(document: Document) -> list[str]:
    """Name what would keep the draft from being signed, the number aside."""
    found = missing_items(document)
    return [item.split(" ", 1)[1] for item in found if not item.startswith(FROM_NUMBER)]


def signed_by(form: SignForm, submission: Submission, who: Person, now: datetime) -> Certificate | None:
    """Sign in again and sign off; None where that is refused, with the refusal in the form, beside its field."""
    given = form.cleaned_data
    try:
        if given["seen_sha256"] != submission.record_sha256:
            raise NotWhatWasShown()
        proof = sign_in_again(person=who, password=given["password"], now=now)
        return sign_off(submission=submission, proof=proof, by=who, now=now)
    except LabError as refusal:
        attach(form, refusal)
        return None
