"""What is typed about people, by those who manage them and by themselves."""

from __future__ import annotations

from typing import Any

from django import forms

from labsys.accounts.models import Activity, Person
from labsys.accounts.operations import Grant, PersonData
from labsys.accounts.words import ROLE_SAYS
from labsys.journal.roles import Role
from labsys.laboratory.models import Department, Family


def reason_field() -> forms.CharField:
    """Make the field for the reason that every change wants."""
    return forms.CharField(
        label="Reason",
        max_length=300,
        help_text="Why, in words that somebody understands who reads it in two years.",
    )


def roles_field() -> forms.TypedMultipleChoiceField:
    """Make the field for roles, each with what it is for."""
    choices = [(role.value, f"{role.value}: {ROLE_SAYS[role]}") for role in Role]
    return forms.TypedMultipleChoiceField(
        label="Roles", choices=choices, coerce=Role, widget=forms.CheckboxSelectMultiple
    )


def department_field() -> forms.ModelChoiceField:
    """Make the field for the department somebody belongs to."""
    return forms.ModelChoiceField(
        Department.objects.all(), label="Department", required=False, empty_label="none, or the laboratory"
    )


def day_field(**more: Any) -> forms.DateField:
    """Make a field for a day."""
    return forms.DateField(widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **more)


class RegisterForm(forms.Form):
    """Somebody new."""

    username = forms.CharField(
        label="User name",
        max_length=60,
        help_text="Small letters, figures, points and hyphens. It is never given to anybody else.",
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off"}),
    )
    name = forms.CharField(label="Name", max_length=150, help_text="As it is to stand on certificates.")
    email = forms.EmailField(
        label="Mail address", required=False, help_text="Where reminders go. Nobody signs in with it."
    )
    department = department_field()
    roles = roles_field()


class PersonForm(forms.Form):
    """A correction of what is written about somebody."""

    name = forms.CharField(label="Name", max_length=150)
    email = forms.EmailField(label="Mail address", required=False)
    department = department_field()
    reason = reason_field()

    def data_given(self) -> PersonData:
        """Give what was filled in as the act takes it."""
        return PersonData(**{name: self.cleaned_data[name] for name in ("name", "email", "department")})


class RolesForm(forms.Form):
    """Other roles."""

    roles = roles_field()
    reason = reason_field()


class ReasonForm(forms.Form):
    """A reason and nothing else."""

    reason = reason_field()


class WayInForm(forms.Form):
    """A way in for somebody without a password."""

    lock = forms.BooleanField(
        label="Somebody else may know the old password",
        required=False,
        help_text="It stops working at once, and every sign-in of this person ends.",
    )
    reason = reason_field()


class AuthoriseForm(forms.Form):
    """An authorisation of one person for one family."""

    activity = forms.ChoiceField(label="May", choices=Activity.choices, widget=forms.RadioSelect)
    family = forms.ModelChoiceField(Family.objects.all(), label="Family of gauges", empty_label="Choose one")
    valid_from = day_field(label="From")
    lapses_on = day_field(
        label="Lapses on", required=False, help_text="The last day on which it holds. Empty: no term."
    )
    supervised = forms.BooleanField(
        label="Under supervision", required=False, help_text="Still learning: somebody else countersigns."
    )
    evidence = forms.CharField(
        label="Evidence",
        max_length=300,
        help_text="What it rests on: training, supervised calibrations, comparison results, and where they are kept.",
    )

    def grant_for(self, person: Person) -> Grant:
        """Give what was filled in as the act takes it."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "valid_from"}
        return Grant(person=person, **{**given, "activity": Activity(given["activity"])})


class SettingsForm(forms.Form):
    """One's own settings."""

    hand = forms.ChoiceField(
        label="Keys at the bench",
        choices=[("right", "at the right hand"), ("left", "at the left hand")],
        widget=forms.RadioSelect,
        help_text="The side of the tablet on which the keys stand.",
    )
    email = forms.EmailField(label="Mail address", required=False, help_text="Where your reminders go.")


class TokenForm(forms.Form):
    """A token for a program."""

    token_name = forms.CharField(
        label="What uses it", max_length=80, help_text="Such as “due list on the shop's screen”."
    )
