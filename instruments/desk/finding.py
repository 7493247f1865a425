"""Finding anything by what is written on it: a tag, a scanned label, a serial, a certificate's number, a name."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q
from django.urls import reverse

from instruments.certificates.models import Certificate
from instruments.inventory.models import Gauge
from labsys.accounts.queries import people
from standards.register.models import Standard
from standards.traceability.models import CertificateReceived

MOST = 20
_CODE = re.compile(r"(?:^|/)([0-9a-f]{32})/?$", re.IGNORECASE)


@dataclass(frozen=True)
class Found:
    """One thing found: its name, what it is, where its page is."""

    name: str
    says: str
    url: str


@dataclass(frozen=True)
class Group:
    """What was found of one kind; ``is_cut`` when there is more than is shown."""

    title: str
    items: tuple[Found, ...]
    is_cut: bool


def find(text: str, *, with_people: bool) -> tuple[Group, ...]:
    """Find gauges, standards, certificates and received certificates that carry a text; one query for each kind.

    ``with_people`` also finds people by name and user name, which is for those who manage them.
    """
    text = text.strip()
    if not text:
        return ()
    code = _CODE.search(text)
    if code is not None:
        labelled = Q(tag__code=code[1].lower())
        return _groups(("Gauges", _gauges(labelled)), ("Standards", _standards(labelled)))
    carried = Q(tag__text__icontains=text) | Q(serial__icontains=text)
    return _groups(
        ("Gauges", _gauges(carried)),
        ("Standards", _standards(carried | Q(name__icontains=text))),
        ("Certificates", _certificates(text)),
        ("Certificates received for standards", _received(text)),
        ("People", _people(text) if with_people else ()),
    )


def _groups(*found: tuple[str, Iterable[Found]]) -> tuple[Group, ...]:
    groups = [(title, tuple(items)) for title, items in found]
    return tuple(Group(title, items[:MOST], len(items) > MOST) for title, items in groups if items)


def _gauges(which: Q) -> Iterable[Found]:
    rows = Gauge.objects.filter(which).select_related("tag", "model", "department").order_by("tag__text")
    for row in rows[: MOST + 1]:
        yield Found(
            row.tag.text,
            f"{row.model}, serial {row.serial}, {row.department}",
            reverse("gauge", args=[row.pk]),
        )


def _standards(which: Q) -> Iterable[Found]:
    rows = Standard.objects.filter(which).select_related("tag").order_by("tag__text")
    for row in rows[: MOST + 1]:
        yield Found(row.tag.text, f"{row.name}, serial {row.serial}", reverse("standard", args=[row.pk]))


def _certificates(text: str) -> Iterable[Found]:
    which = Q(number__icontains=text) | Q(session__gauge__tag__text__icontains=text)
    rows = Certificate.objects.filter(which).select_related("session__gauge__tag").order_by("-pk")
    for row in rows[: MOST + 1]:
        yield Found(
            row.number,
            f"{row.session.gauge}, {row.get_state_display()}",
            reverse("certificate", args=[row.pk]),
        )


def _received(text: str) -> Iterable[Found]:
    rows = CertificateReceived.objects.filter(number__icontains=text).select_related(
        "issuer", "calibration__standard__tag"
    )
    for row in rows.order_by("-pk")[: MOST + 1]:
        standard = row.calibration.standard
        yield Found(
            row.number, f"{row.issuer}, for {standard}", reverse("certificate-received", args=[row.pk])
        )


def _people(text: str) -> Iterable[Found]:
    rows = people().prefetch_related(None).filter(Q(name__icontains=text) | Q(username__icontains=text))
    for row in rows.order_by("name", "pk")[: MOST + 1]:
        known = [f"user name {row.username}", str(row.department or ""), "" if row.is_active else "closed"]
        yield Found(row.name, ", ".join(filter(None, known)), reverse("person", args=[row.pk]))
