"""A field for photos: several at once, from the camera of a tablet or from files."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from instruments.inventory.pictures import Picture, look_at
from labsys.errors import LabError

HELP = "From the camera or a file: JPEG, PNG or WebP, at most 15 MB each. They need the network."


class ManyFiles(forms.FileInput):
    """An input that takes several files at once."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """One file or several; each is looked at by itself later."""

    widget = ManyFiles(attrs={"accept": "image/*", "capture": "environment"})

    def clean(self, data: Any, initial: Any = None) -> Any:
        """Give the files as a list, empty where none was chosen and none has to be."""
        given = data if isinstance(data, list | tuple) else [data]
        cleaned = [super(FilesField, self).clean(one, initial) for one in given or [None]]
        return [one for one in cleaned if one]


def picture_of(file: UploadedFile) -> Picture:
    """Look at one file that was sent; raises what ``look_at`` raises."""
    return look_at(file.read(), (file.name or "photo")[:100])


def pictures_of(form: forms.Form, name: str) -> list[Picture] | None:
    """Look at the pictures of a valid form; where one is none, its sentence goes beside the field, and gives None."""
    found: list[Picture] = []
    files: list[UploadedFile] = form.cleaned_data[name]
    for file in files:
        try:
            found.append(picture_of(file))
        except LabError as refusal:
            form.add_error(name, str(refusal))
    return None if form.errors else found
