"""What a person answers when a certificate comes in (17025, 6.6.3; these seven are common practice, no source)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Question:
    """One question of the review; without a yes to a question that is a ``must`` nothing can be accepted."""

    code: str
    title: str
    asks: str
    must: bool


@dataclass(frozen=True)
class Answer:
    """A yes or no, with what there is to say about it."""

    yes: bool
    remark: str = ""


QUESTIONS = (
    Question(
        "identity", "Identity", "Maker, type and serial on the certificate are those of this standard.", True
    ),
    Question("points", "Points", "Every element that the work needs has been calibrated.", False),
    Question(
        "values", "Values", "The values entered here are those on the certificate, with their signs.", True
    ),
    Question(
        "uncertainty", "Uncertainty", "U and k are stated for every value and small enough for the use.", True
    ),
    Question(
        "traceability",
        "Traceability",
        "The issuer was competent for this service on that day, and the certificate says so.",
        True,
    ),
    Question("conditions", "Conditions", "Temperature and method are stated and suit the use.", False),
    Question("signature", "Signature", "The certificate is complete, numbered, dated and authorised.", True),
)
BY_CODE = {question.code: question for question in QUESTIONS}
