"""The form of a certificate that comes in. A file that was sent stays kept while the rest is mended."""

from __future__ import annotations

import re
from datetime import date
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict

from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.metrology.units import Quantity, Unit
from standards.register.forms import FigureField, day_field
from standards.register.models import Calibration, Standard
from standards.register.queries import end_of_day, usability
from standards.traceability import pending
from standards.traceability.files import ReceivedFile
from standards.traceability.models import CertificateReceived, Issuer
from standards.traceability.operations import CertificateData
from standards.traceability.quantities import CHOICES, USUAL

ACCEPTED_FILES = "application/pdf,image/png,image/jpeg,.pdf,.png,.jpg,.jpeg"
_ANGLES = {Unit.ARCSEC: "″ (arc seconds)", Unit.ARCMIN: "′ (arc minutes)", Unit.DEG: "° (degrees)"}
FILE_HELP = "PDF, PNG or JPEG, at most 20 MB."


class FileForm(forms.Form):
    """The scan of a certificate, judged by its bytes."""

    file = forms.FileField(
        label="File", widget=forms.FileInput(attrs={"accept": ACCEPTED_FILES}), help_text=FILE_HELP
    )

    def received(self) -> ReceivedFile:
        """Give the file as the act takes it."""
        sent = self.cleaned_data["file"]
        return ReceivedFile(sent.name, sent.read())


class NoLongerKept(LabError):
    """The file that was sent with an earlier try was swept away."""

    code: ClassVar[str] = "no-longer-kept"
    sentence: ClassVar[str] = "The file sent before is no longer kept. Choose it again."
    field: ClassVar[str | None] = "file"


def _take_file(sent: UploadedFile | None, word: str, person: Person) -> tuple[ReceivedFile | None, str]:
    """Take the file that was sent, else the one kept from before; a new one is kept, so that it survives a mistake.

    Gives the file and the word that redeems it. Raises what looking at it raises, and NoLongerKept.
    """
    if sent is not None:
        file = ReceivedFile(str(sent.name), sent.read())
        fresh = pending.keep(file, person)
        pending.discard(word)
        return file, fresh
    if not word:
        return None, ""
    kept = pending.redeem(word, person)
    if kept is None:
        raise NoLongerKept()
    return kept, word


class CertificateForm(forms.Form):
    """What stands on a certificate."""

    issuer = forms.ModelChoiceField(
        Issuer.objects.all(),
        label="Issuer",
        empty_label="Choose one",
        help_text="Not in the list? Record it on the page of issuers first, with its scope.",
    )
    number = forms.CharField(label="Certificate number", max_length=80)
    route = forms.ChoiceField(
        label="Route of traceability", choices=CertificateReceived.Route.choices, initial="2"
    )
    quantity = forms.ChoiceField(label="Service", choices=CHOICES)
    serial_on_certificate = forms.CharField(
        label="Serial number on the certificate",
        max_length=80,
        help_text="As printed there, not as on record here.",
    )
    calibrated_on = day_field("Calibrated on")
    issued_on = day_field("Issued on")
    conditions = forms.CharField(
        label="Conditions", max_length=200, required=False, help_text="Temperature and method, as stated."
    )
    accreditation_mark = forms.BooleanField(label="It carries an accreditation mark", required=False)
    stated_traceability = forms.CharField(
        label="What it says of its own traceability",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    relies_on = forms.CharField(
        label="Relies on",
        required=False,
        max_length=400,
        help_text="For a calibration made here: the tags of the standards it was compared with, with commas between.",
    )
    file = forms.FileField(
        label="File",
        required=False,
        widget=forms.FileInput(attrs={"accept": ACCEPTED_FILES}),
        help_text=f"{FILE_HELP} It can be added later, but without it nothing can be accepted.",
    )
    kept = forms.CharField(required=False, widget=forms.HiddenInput)
    unit = forms.ChoiceField(
        label="Unit of the values",
        choices=((Unit.UM.value, "µm"), (Unit.MM.value, "mm")),
        initial=Unit.UM.value,
    )
    k = FigureField(
        label="Coverage factor k", initial="2", help_text="Holds for every line that states none."
    )

    def __init__(self, *args: Any, standard: Standard, person: Person, **more: Any) -> None:
        super().__init__(*args, **more)
        self.standard, self.person = standard, person
        self.initial.setdefault("quantity", USUAL.get(Standard.Kind(standard.kind), ""))
        if standard.quantity is Quantity.ANGLE:
            choices = [(unit.value, words) for unit, words in _ANGLES.items()]
            self.fields["unit"] = forms.ChoiceField(label="Unit of the values", choices=choices)
            self.initial["unit"] = Unit.ARCSEC.value
        self.received: ReceivedFile | None = None
        self.upstream: tuple[Calibration, ...] = ()

    @classmethod
    def as_typed(cls, sent: QueryDict, files: Any, *, standard: Standard, person: Person) -> CertificateForm:
        """Make the form with what was typed so far, not judged; a file that was sent is kept."""
        initial = {name: sent.get(name, "") for name in cls.base_fields}
        form = cls(initial=initial, standard=standard, person=person)
        try:
            form.received, form.initial["kept"] = _take_file(files.get("file"), sent.get("kept", ""), person)
        except LabError:
            # Shown beside its field when the form is sent; until then nothing is judged.
            form.initial["kept"] = ""
        return form

    def _look_at_file(self) -> None:
        self.received, word = _take_file(self.files.get("file"), self.data.get("kept", ""), self.person)
        self.data = {**self.data.dict(), "kept": word} if isinstance(self.data, QueryDict) else self.data

    def clean(self) -> dict[str, Any]:
        """Look at the file and at what is relied on, which need the other fields."""
        found = super().clean() or {}
        try:
            self._look_at_file()
        except LabError as refusal:
            self.add_error("file", str(refusal))
        day = found.get("calibrated_on")
        if day and found.get("relies_on"):
            self._find_upstream(found["relies_on"], day)
        return found

    def data_given(self) -> CertificateData:
        """Give what was filled in as the act takes it."""
        names = CertificateData.__dataclass_fields__
        return CertificateData(**{name: self.cleaned_data[name] for name in names})

    def _find_upstream(self, text: str, day: date) -> None:
        found = []
        for tag in dict.fromkeys(filter(None, re.split(r"[,;\s]+", text))):
            try:
                found.append(self._calibration(tag, day))
            except ValidationError as problem:
                self.add_error("relies_on", problem)
        self.upstream = tuple(found)

    def _calibration(self, tag: str, day: date) -> Calibration:
        standard = Standard.objects.select_related("tag").filter(tag__text__iexact=tag).first()
        if standard is None:
            raise ValidationError(
                f"No standard has the tag “{tag}”. Tags are those on the list of standards."
            )
        if standard == self.standard:
            raise ValidationError(f"{standard.tag} can't rely on itself. Name what it was compared with.")
        use = usability(standard, end_of_day(day))
        if use.calibration is None or not use.ok:
            raise ValidationError(use.sentence)
        return use.calibration
