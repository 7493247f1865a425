"""The form in which a question is put to the arithmetic: typed, or as a file."""

from __future__ import annotations

from typing import Any

from django import forms

MOST_BYTES = 1_000_000


class QuestionForm(forms.Form):
    """A file of questions; what is chosen as a file goes before what is typed."""

    question = forms.CharField(
        label="Questions (JSON)",
        required=False,
        widget=forms.Textarea(attrs={"rows": 14, "class": "figure", "spellcheck": "false"}),
    )
    file = forms.FileField(label="Or a file of them", required=False)

    def clean(self) -> dict[str, Any]:
        """Give ``text``: what is to be answered."""
        found = super().clean() or {}
        file = found.get("file")
        if file is not None and file.size > MOST_BYTES:
            raise forms.ValidationError(
                f"Expected a file of at most {MOST_BYTES:,} bytes, found {file.size:,}."
            )
        try:
            found["text"] = file.read().decode("utf-8-sig") if file is not None else found.get("question", "")
        except UnicodeDecodeError as fault:
            raise forms.ValidationError("Expected a text file in UTF-8, found other bytes.") from fault
        if not found["text"].strip():
            raise forms.ValidationError("Type a question, choose a file, or begin with one of the examples.")
        return found
