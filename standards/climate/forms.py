"""Forms of a thermometer's log: a file to add, and the days to look at."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from labsys.laboratory.queries import start_of_day

LONGEST_DAYS = 366


class LogFileForm(forms.Form):
    """A logger's file."""

    file = forms.FileField(
        label="The logger's file",
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv,text/plain"}),
        help_text=(
            "CSV with a line of heads, among them time and temperature, perhaps humidity. Times such as "
            "2026-11-25 07:43 are the laboratory's; with an offset they are what they say. Comma or point in numbers."
        ),
    )

    @property
    def given(self) -> tuple[str, bytes]:
        """Give the file's name and content."""
        file: UploadedFile = self.cleaned_data["file"]
        return file.name or "", file.read()


class DaysForm(forms.Form):
    """From which day through which."""

    first = forms.DateField(label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    last = forms.DateField(label="Through", required=False, widget=forms.DateInput(attrs={"type": "date"}))

    def clean(self) -> dict[str, Any]:
        """Refuse days in the wrong order, and more than a year of them."""
        cleaned = super().clean() or {}
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and not 0 <= (last - first).days < LONGEST_DAYS:
            self.add_error("last", f"Expected a day from {first} on, within a year; found {last}.")
        return cleaned

    def days(self, newest: date) -> tuple[date, date]:
        """Give the days asked for; without any, the week that ends with the newest reading."""
        found = self.cleaned_data if self.is_valid() else {}
        last = found.get("last") or max(newest, found.get("first") or newest)
        first = found.get("first") or last - timedelta(days=6)
        return first, min(last, first + timedelta(days=LONGEST_DAYS - 1))


def ends_of(first: date, last: date) -> tuple[datetime, datetime]:
    """Give the first and the last instant of these days of the laboratory."""
    return start_of_day(first), start_of_day(last + timedelta(days=1)) - timedelta.resolution
