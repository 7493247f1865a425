"""What is typed about a message."""

from __future__ import annotations

from django import forms


class ArrivedForm(forms.Form):
    """How somebody knows that a message arrived."""

    reason = forms.CharField(label="How you know", max_length=300, help_text="“The shift lead has it.”")
