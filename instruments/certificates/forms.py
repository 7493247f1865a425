"""Forms of certificates: signing, confirming the highest number, checking a file."""

from __future__ import annotations

from django import forms


class SignForm(forms.Form):
    """Signing in again over what was read; ``seen_sha256`` is the hash of the submission that was shown."""

    seen_sha256 = forms.CharField(widget=forms.HiddenInput)
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="Your name, the time and the hash of the certificate make the signature.",
    )


class ConfirmForm(forms.Form):
    """The highest number that ever left the laboratory."""

    highest = forms.IntegerField(
        label="Highest number ever issued",
        min_value=0,
        help_text="The figure at the end of it. Look at the last certificate that left the laboratory.",
    )
    reason = forms.CharField(
        label="How you know",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class CheckForm(forms.Form):
    """A file to compare with the one that was issued; only its hash is taken, while it comes in."""

    file = forms.FileField(label="The certificate's PDF file")
