"""The form of a review: a yes or no to each question with a remark, a decision, a reason, the password."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField

from labsys.errors import LabError
from labsys.pages import refusals
from standards.traceability.checklist import QUESTIONS, Answer, Question
from standards.traceability.models import CertificateReview
from standards.traceability.operations import RemarkMissing

YES_NO = (("yes", "Yes"), ("no", "No"))


@dataclass(frozen=True)
class Asked:
    """A question as the page shows it."""

    question: Question
    answer: BoundField
    remark: BoundField


class ReviewForm(forms.Form):
    """A review of a certificate."""

    decision = forms.ChoiceField(
        label="Decision",
        choices=(
            (CertificateReview.Decision.ACCEPT, "Accept"),
            (CertificateReview.Decision.REJECT, "Reject"),
        ),
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Reason",
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed for a rejection. An acceptance may carry one.",
    )
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="The decision is signed in your name, so it asks again.",
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for question in QUESTIONS:
            self.fields[f"answer_{question.code}"] = forms.ChoiceField(
                label=question.title, choices=YES_NO, widget=forms.RadioSelect, help_text=question.asks
            )
            self.fields[f"remark_{question.code}"] = forms.CharField(
                label=f"Remark on {question.title.lower()}", required=False, max_length=500
            )

    def asked(self) -> Iterator[Asked]:
        """Give the questions with their fields, in order."""
        for question in QUESTIONS:
            yield Asked(question, self[f"answer_{question.code}"], self[f"remark_{question.code}"])

    def answers(self) -> dict[str, Answer]:
        """Give the answers as the act takes them."""
        given = self.cleaned_data
        return {
            question.code: Answer(given[f"answer_{question.code}"] == "yes", given[f"remark_{question.code}"])
            for question in QUESTIONS
        }

    def blame(self, refusal: LabError) -> None:
        """Put a refusal where it can be mended."""
        if isinstance(refusal, RemarkMissing):
            self.add_error(f"remark_{refusal.question}", str(refusal))
        else:
            refusals.attach(self, refusal)
