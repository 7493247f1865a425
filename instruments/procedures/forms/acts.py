"""Forms of the acts: starting a procedure, drafting the next revision, replacing a draft, approving, retiring."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from instruments.procedures.content import dump
from instruments.procedures.content.parsing import LONGEST_CONTENT
from instruments.procedures.forms.fields import Long
from instruments.procedures.models import Revision
from instruments.procedures.shipped import families, procedure
from labsys.laboratory.models import Family


class StartForm(forms.Form):
    """A procedure before its first revision."""

    code = forms.CharField(
        label="Code", max_length=30, help_text="Short and lasting; it stands on certificates."
    )
    title = forms.CharField(label="Title", max_length=120)
    family = forms.ModelChoiceField(Family.objects.order_by("name"), label="Family of gauges")


class JsonFile(forms.FileField):
    """An uploaded file that holds a content as JSON text."""

    def clean(self, data: Any, initial: Any = None) -> str:
        """Read the file as text; what it says is judged by the act."""
        file = super().clean(data, initial)
        if not file:
            return ""
        if file.size > 4 * LONGEST_CONTENT:
            raise ValidationError(
                "The file is larger than any procedure. Export a revision to see what one looks like."
            )
        try:
            return str(file.read().decode("utf-8-sig"))
        except UnicodeDecodeError as fault:
            raise ValidationError(
                "The file is no text. Expected JSON in UTF-8, as an export gives it."
            ) from fault


class DraftForm(forms.Form):
    """What the next revision starts from."""

    base = forms.ChoiceField(label="Start from", widget=forms.RadioSelect)
    shipped = forms.ChoiceField(
        label="Procedure that ships",
        required=False,
        help_text="Its starting values are nobody's confirmed ones.",
    )
    content = JsonFile(
        label="File", required=False, help_text="A procedure's file, as an export gives it (JSON)."
    )
    change = Long(
        label="What changes, and why",
        error_messages={
            "required": "Say what changes against the revision before, and why: auditors start here."
        },
    )

    def __init__(self, *args: Any, last: Revision | None, family: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.last = last
        self.fields["change"].required = last is not None
        ships = families()
        self.fields["shipped"].choices = [(code, procedure_name(code)) for code in ships]  # type: ignore[attr-defined]
        self.fields["shipped"].initial = family if family in ships else "caliper"
        choices = [("shipped", "a procedure that ships, with starting values"), ("file", "a file")]
        if last is not None:
            choices.insert(0, ("last", f"revision {last.number}"))
        self.fields["base"].choices = choices  # type: ignore[attr-defined]
        self.fields["base"].initial = choices[0][0]

    def clean(self) -> dict[str, Any]:
        """A file is needed where one was chosen."""
        given: dict[str, Any] = super().clean() or {}
        if given.get("base") == "file" and not given.get("content") and "content" not in self.errors:
            self.add_error("content", "Choose the file to start from, or start from something else.")
        return given

    def content_text(self) -> str:
        """Give the content that was chosen."""
        base = self.cleaned_data["base"]
        if base == "last" and self.last is not None:
            return self.last.content
        if base == "shipped":
            return dump(procedure(self.cleaned_data["shipped"] or str(self.fields["shipped"].initial)))
        return str(self.cleaned_data["content"])


def procedure_name(code: str) -> str:
    """Name a family that a procedure ships for: outside micrometer."""
    return code.replace("-", " ")


class ReplaceForm(forms.Form):
    """A draft replaced by a file."""

    content = JsonFile(label="File", help_text="A procedure's file, as an export gives it (JSON).")
    based_on = forms.CharField(widget=forms.HiddenInput)


class ChangeForm(forms.Form):
    """What a draft changes against the revision before."""

    change = Long(label="What changes against the revision before, and why", rows=5, required=False)
    based_on = forms.CharField(widget=forms.HiddenInput)


class ApproveForm(forms.Form):
    """Signing in again over what was read."""

    seen_sha256 = forms.CharField(widget=forms.HiddenInput)
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="Your name, the time and the hash of this content make the signature.",
    )


class RetireForm(forms.Form):
    """Taking a revision out of force."""

    reason = Long(label="Reason")
