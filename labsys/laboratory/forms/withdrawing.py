"""The form that ends something by a row with its reason."""

from __future__ import annotations

from django import forms

from labsys.laboratory.forms.fields import reason_field


class WithdrawForm(forms.Form):
    """A reason and nothing else."""

    reason = reason_field()
